"""The totals of a batch at one stage: what each word means, and which sums hold between them.

Every page, paper and file takes its totals from here, so that they are the same everywhere. The
guide says the same to its readers under "The totals of a batch" (static/guide/figures.md).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.batch_facts import SEVERITIES
from qcapp.inspection.terms import SEVERITIES as SEVERITY_WORDS

OUTCOMES = ("released_at_once", "released_later", "concession", "scrap", "rework", "hold")
# Of stoves: a whole, and the counts that make it up.
SUMS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("offered", ("inspected", "not_inspected")),
    ("inspected", ("good", "faulty")),
    ("inspected", OUTCOMES),
)
SUM_TITLES: tuple[Phrase, ...] = (
    phrase("How many were inspected"),
    phrase("What the first inspection found"),
    phrase("What happened to them"),
)
# Of failed checks: each of these ways to divide them gives the same number.
DIVISIONS: dict[str, Phrase] = {
    "part": phrase("Faults by part"),
    "check": phrase("Faults by check"),
    "severity": phrase("Faults by severity"),
}

WORDS: dict[str, Phrase] = {
    "offered": phrase("Offered"),
    "inspected": phrase("Inspected"),
    "not_inspected": phrase("Not inspected"),
    "good": phrase("Good"),
    "faulty": phrase("Faulty"),
    "released_at_once": phrase("Released at the first inspection"),
    "released_later": phrase("Released later, after rework or a hold"),
    "concession": phrase("Released by concession"),
    "scrap": phrase("Scrapped"),
    "rework": phrase("Waiting for rework"),
    "hold": phrase("Held"),
}
# What the reader is told where the words stand.
MEANINGS: tuple[Phrase, ...] = (
    phrase("Offered: the stoves presented together as this batch, inspected or not."),
    phrase("Good: no check failed at the stove's first inspection."),
    phrase(
        "Faulty: at least one check failed at the stove's first inspection, even if it was "
        "repaired later."
    ),
    phrase(
        "Fault: one failed check at a first inspection. A faulty stove has one or more, so there "
        "are at least as many faults as faulty stoves."
    ),
)


@dataclass(frozen=True)
class BatchTotals:
    """stoves: by the keys of WORDS; without offered and not_inspected where nobody said how many
    were to come. faults: failed checks at first pass. by: {division: {what: faults}}.
    """

    stoves: Mapping[str, int]
    faults: int
    by: Mapping[str, Mapping[str, int]]

    @property
    def inspected(self) -> int:
        return self.stoves["inspected"]

    @property
    def outcomes(self) -> dict[str, int]:
        return {key: self.stoves[key] for key in OUTCOMES}


def count_stoves(
    *, offered: int | None, faulty: int, dispositions: Mapping[str, int], released_later: int
) -> dict[str, int]:
    """faulty, dispositions, released_later: stoves; the last are among those of release."""
    inspected = sum(dispositions.values())
    given = {} if offered is None else {"offered": offered, "not_inspected": offered - inspected}
    return {
        **given,
        "inspected": inspected,
        "good": inspected - faulty,
        "faulty": faulty,
        "released_at_once": dispositions.get("release", 0) - released_later,
        "released_later": released_later,
        **{kind: dispositions.get(kind, 0) for kind in ("concession", "scrap", "rework", "hold")},
    }


@dataclass(frozen=True)
class SumTable:
    """Counts of stoves that make up a whole, as a page or paper shows them."""

    title: Phrase
    parts: tuple[tuple[Phrase, int], ...]
    whole: Phrase
    count: int


def list_sum_tables(stoves: Mapping[str, int]) -> list[SumTable]:
    """One for each of SUMS that has its whole."""
    return [
        SumTable(
            title, tuple((WORDS[part], stoves[part]) for part in parts), WORDS[whole], stoves[whole]
        )
        for (whole, parts), title in zip(SUMS, SUM_TITLES, strict=True)
        if whole in stoves
    ]


def divide_faults(failed: Iterable[tuple[str, str, str, int]]) -> dict[str, dict[str, int]]:
    """failed: (part, check, severity, failed checks). Only parts and checks with a fault appear."""
    by: dict[str, dict[str, int]] = {"part": {}, "check": {}, "severity": {}}
    by["severity"] = dict.fromkeys(SEVERITIES, 0)
    for part, check, severity, count in failed:
        if count:
            for division, name in (("part", part), ("check", check), ("severity", severity)):
                by[division][name] = by[division].get(name, 0) + count
    return by


def list_wrong_sums(
    stoves: Mapping[str, int], faults: int, by: Mapping[str, Mapping[str, int]]
) -> list[Phrase]:
    """Each sum that does not hold; empty where the totals add up.

    A whole that is not told has no sum. Counts below nought are wrong too, and faults without a
    faulty stove, or fewer than those.
    """
    wrong = []
    for whole, parts in SUMS:
        if whole not in stoves:
            continue
        found = sum(stoves[part] for part in parts)
        if stoves[whole] != found:
            wrong.append(_tell_wrong(WORDS[whole], stoves[whole], found))
    for division, word in DIVISIONS.items():
        found = sum(by[division].values())
        if found != faults:
            wrong.append(_tell_wrong(word, faults, found))
    wrong += [_tell_wrong(WORDS[key], n, 0) for key, n in stoves.items() if n < 0]
    if not stoves["faulty"] <= faults or (faults and not stoves["faulty"]):
        wrong.append(_tell_wrong(WORDS["faulty"], stoves["faulty"], faults))
    return wrong


def _tell_wrong(what: Phrase, count: int, found: int) -> Phrase:
    return phrase("%(what)s: %(count)s, not %(found)s", what=what, count=count, found=found)


def list_wrong_sums_of(document: Mapping[str, Any]) -> list[Phrase]:
    """As list_wrong_sums, of an issued summary; what it says twice must be the same."""
    faults, offered = document["faults"], document["counts"]["offered"]
    by = {
        "part": {row["part"]: row["failed"] for row in document["parts"]},
        "check": _sum_by_check(document["causes"]),
        "severity": {key: faults[key] for key in SEVERITIES},
    }
    wrong = list_wrong_sums(document["counts"], faults["total"], by)
    for severity in SEVERITIES:
        here = sum(row[severity] for row in document["parts"])
        if here != faults[severity]:
            wrong.append(_tell_wrong(SEVERITY_WORDS[severity], faults[severity], here))
    if document["batch"]["offered"] != offered:
        wrong.append(_tell_wrong(WORDS["offered"], offered, document["batch"]["offered"]))
    return [*wrong, *_list_wrong_serials(document)]


def _list_wrong_serials(document: Mapping[str, Any]) -> list[Phrase]:
    """A summary from before serials were listed has none."""
    if "serials" not in document:
        return []
    counts, serials = document["counts"], document["serials"]
    told = {
        "released": counts["released_at_once"] + counts["released_later"],
        **{kind: counts[kind] for kind in ("concession", "rework", "scrap", "hold")},
    }
    words = {**WORDS, "released": phrase("Released")}
    return [
        _tell_wrong(words[kind], count, found)
        for kind, count in told.items()
        if (found := len(serials["release" if kind == "released" else kind])) != count
    ]


def _sum_by_check(causes: Iterable[Mapping[str, Any]]) -> dict[str, int]:
    found: dict[str, int] = {}
    for row in causes:
        found[row["check"]] = found.get(row["check"], 0) + row["failed"]
    return found
