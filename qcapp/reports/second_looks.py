"""Random second looks: what the first look and the blind second one said of the same stove."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.i18n.phrase import phrase
from qcapp.inspection.judge import Judgement, judge_answers
from qcapp.inspection.study import SECOND_LOOK, StudyAnswer
from qcapp.reports.studies import CheckAgreement, Look, compare_looks
from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval

# Hash of the checklist, id of the check, size.
LookKey = tuple[str, str, str]
FIRST, SECOND = phrase("first look"), phrase("second look")


@dataclass(frozen=True)
class SecondLookRow:
    """One check of one checklist's revision at one size: what both looks were held against."""

    checklist: Checklist
    size: str
    found: CheckAgreement


@dataclass(frozen=True)
class SecondLookReport:
    """stoves: looked at twice by someone else; alike, compared: checks with the same verdict, of
    all that both gave; interval: Wilson's, taking checks as independent (those of one stove are not
    wholly).
    """

    stoves: int
    alike: int
    compared: int
    interval: Interval | None
    checks: tuple[SecondLookRow, ...]


def build_second_look_report(
    answers: Iterable[StudyAnswer],
    first: Mapping[str, Mapping[str, Any]],
    checklists: Mapping[str, Checklist],
) -> SecondLookReport:
    """first: the first-pass inspection as it counts (`fold_stove`), by stove key. A second look by
    the same inspector, or at a stove without a first one, is left out.
    """
    looks: dict[LookKey, list[Look]] = {}
    checks: dict[LookKey, Check] = {}
    stoves = alike = compared = 0
    for answer in answers:
        inspection = _find_other_look(answer, first)
        checklist = checklists.get(inspection["checklist_hash"]) if inspection else None
        if inspection is None or checklist is None:
            continue
        stoves += 1
        for check, *pair in _pair_looks(checklist, inspection["body"], answer.answers):
            key = (inspection["checklist_hash"], check.id, inspection["body"]["size"])
            checks[key] = check
            compared += 1
            alike += pair[0].verdict == pair[1].verdict
            looks.setdefault(key, []).extend(
                Look(answer.stove, who, 1, found)
                for who, found in zip((FIRST, SECOND), pair, strict=True)
            )
    rows = tuple(
        SecondLookRow(
            checklists[key],
            size,
            # Each look measures once: how far one inspector repeats is no question here.
            replace(compare_looks(check, looks[key, name, size], size=size), why_no_readings=""),
        )
        for (key, name, size), check in checks.items()
    )
    return SecondLookReport(
        stoves, alike, compared, wilson_interval(alike, compared) if compared else None, rows
    )


def _find_other_look(
    answer: StudyAnswer, first: Mapping[str, Mapping[str, Any]]
) -> Mapping[str, Any] | None:
    """The first inspection that a second look is held against, where another inspector made it."""
    inspection = first.get(answer.stove)
    if answer.study != SECOND_LOOK or inspection is None:
        return None
    return None if inspection["inspector"] == answer.inspector else inspection


def _pair_looks(
    checklist: Checklist, body: Mapping[str, Any], second: Mapping[str, Any]
) -> Iterator[tuple[Check, Judgement, Judgement]]:
    """Each check that both looks answered, with the first look's verdict and the second's."""
    context = {"size": body["size"], "batch": body["batch_attributes"]}
    before, after = (
        judge_answers(checklist, given, context) for given in (body["answers"], second)
    )
    for check in checklist.checks:
        pair = (before[check.id], after[check.id])
        if not any(one.verdict in ("missing", "not_applicable") for one in pair):
            yield check, *pair
