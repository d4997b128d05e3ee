"""A summary as somebody reads it: the document with every sentence that it holds as data put into
words.

What a person typed stays as it stands; what the checklists say comes in the reader's language where
they have it.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.i18n.localized_text import Figure
from qcapp.i18n.messages import is_message
from qcapp.i18n.phrase import ENGLISH, Phrase, phrase
from qcapp.i18n.units import name_unit
from qcapp.inspection.terms import NO_REASON, NOT_NAMED
from qcapp.reports.summary_messages import DECISION, MESSAGES

# Of the kinds of faults; a page or paper sums up the rest.
SHOWN_CAUSES = 10
METHODS = phrase(
    "Shares: Wilson 1927; faults per stove: Garwood 1936, widened if several faults occur on one "
    "stove."
)
# What a summary from before it was told lacks, and what stands for it here.
LACKING: dict[str, Any] = {
    "signatory": None,
    "contact": "",
    "claims": "",
    "order": None,
    "checks": [],
    "serials": None,
    "not_applied": [],
}
TYPED = ("batch", "order", "signatory", "contact", "claims")
FROM_CHECKLIST = {"ask", "title", "fault"}


def word_summary(
    document: Mapping[str, Any], checklist_texts: Mapping[str, str] = {}
) -> dict[str, Any]:
    """A copy to show, its sentences phrases, with every key that a summary may lack (LACKING); a
    check has its `limits` in words. checklist_texts: titles, questions and faults of the
    checklists in the reader's language, by the English one.
    """
    shown: dict[str, Any] = {
        key: _word_inside(value, key, checklist_texts) for key, value in document.items()
    }
    for row in shown["causes"]:
        row["fault"] = row["fault"] or NOT_NAMED
    for row in shown["concessions"]:
        row["reason"] = row["reason"] or NO_REASON
        row.setdefault("faults", [])
        for fault in row["faults"]:
            fault["fault"] = fault["fault"] or NOT_NAMED
    for check in shown.get("checks", ()):
        check["limits"] = word_limits(check)
    for change in shown["changes"]:
        # A count stands as a number.
        change |= {side: _as_text(change[side]) for side in ("before", "after")}
    _word_recheck(shown["recheck"])
    # What was typed by hand is no text of a checklist, even where it reads like one.
    typed = {key: document[key] for key in TYPED if document.get(key)}
    return {**LACKING, **shown, **typed}


def _word_recheck(recheck: dict[str, Any] | None) -> None:
    if recheck is None:
        return
    recheck.setdefault("stoves", [])
    if recheck["wrote"]:
        recheck["note"] = phrase(
            "%(note)s The buyer wrote: %(words)s", note=recheck["note"], words=recheck["wrote"]
        )


def word_limits(check: Mapping[str, Any]) -> Phrase | None:
    """lower, nominal, upper: decimal text or None, in the check's unit. None without any."""
    lower, nominal, upper, unit = (check[key] for key in ("lower", "nominal", "upper", "unit"))
    given = {key: Figure(check[key] or "") for key in ("lower", "nominal", "upper")} | {
        "unit": unit
    }
    if lower is None and upper is None:
        return None
    if lower == upper:
        return phrase("exactly %(lower)s %(unit)s", **given)
    if upper is None:
        return phrase("at least %(lower)s %(unit)s", **given)
    if lower is None:
        return phrase("at most %(upper)s %(unit)s", **given)
    if nominal is None:
        return phrase("%(lower)s to %(upper)s %(unit)s", **given)
    return phrase("%(lower)s to %(upper)s %(unit)s, target %(nominal)s", **given)


def collect_texts(checklists: Iterable[Checklist], language: str) -> dict[str, str]:
    """What the checklists themselves say in a language, by the English that a summary has frozen;
    the first named wins.
    """
    found: dict[str, str] = {}
    for checklist in checklists:
        asked = [check.ask for check in checklist.checks] + [
            fault.title for check in checklist.checks for fault in check.faults
        ]
        for text in (checklist.title, *(part.title for part in checklist.parts), *asked):
            if language in text:
                found.setdefault(text[ENGLISH], text[language])
    return found


def say_intervals(document: Mapping[str, Any]) -> str:
    """What the intervals in brackets are about: where every stove was inspected, the count of this
    batch has no sampling error.
    """
    if document["plan"]["inspect"] == "sample":
        return phrase(
            "In brackets: 95 %% intervals, calculated from the sample, of the rate among all "
            "stoves made in the same way. %(methods)s",
            methods=METHODS,
        )
    if document["counts"]["not_inspected"] > 0:
        return phrase(
            "In brackets: 95 %% intervals. They are right only if the inspected stoves are like "
            "the others; they were not drawn at random. %(methods)s",
            methods=METHODS,
        )
    return phrase(
        "Every stove was inspected, so the counts of this batch are exact. In brackets: 95 %% "
        "intervals, the range in which the rate would lie if many more stoves were made in the "
        "same way. %(methods)s",
        methods=METHODS,
    )


def count_other_faults(document: Mapping[str, Any]) -> int:
    """Faults of the kinds that are not shown one by one."""
    return sum(row["failed"] for row in document["causes"][SHOWN_CAUSES:])


def list_photos(document: Mapping[str, Any]) -> list[str]:
    """SHA-256 of the photos that a summary names: of concessions, and of the buyer's re-check."""
    rows = [*document["concessions"], *(document["recheck"] or {}).get("stoves", ())]
    return [photo for row in rows for photo in row["photos"]]


def list_sentences(document: Mapping[str, Any]) -> list[str]:
    """What the summary says in whole sentences, in its order; for a reader without the page."""
    shown = word_summary(document)
    changes = [
        phrase("%(what)s: %(before)s, now %(after)s", **change) for change in shown["changes"]
    ]
    decided = MESSAGES.word(DECISION[shown["decision"]["final"]]())
    said = [
        phrase("decision: %(decision)s", decision=decided),
        *shown["decision"]["reasons"],
        shown["promise"]["sentence"],
        *changes,
    ]
    if shown["recheck"]:
        said.append(shown["recheck"]["note"])
    return [*said, *shown["cautions"]]


def _as_text(told: Any) -> str:
    return told if isinstance(told, str) else str(told)


def _word_inside(value: Any, key: str, texts: Mapping[str, str]) -> Any:
    if is_message(value):
        return MESSAGES.word_json(value)
    if isinstance(value, Mapping):
        return {inner: _word_inside(part, inner, texts) for inner, part in value.items()}
    if isinstance(value, list):
        return [_word_inside(part, key, texts) for part in value]
    if key == "unit" and value:
        return name_unit(value)
    if key in FROM_CHECKLIST and isinstance(value, str):
        return texts.get(value, value)
    return value
