"""The whole way of one stove: what each stage saw of it, who decided, what was changed later."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.base_check import Limits, NumberCheck
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.items import Step
from qcapp.checklist.model import Checklist
from qcapp.i18n.units import name_unit
from qcapp.inspection.judge import counts_as_fail, judge_answers
from qcapp.inspection.stove import fold_stove
from qcapp.reports.photo_figures import PhotoFigure, list_photo_figures

CHANGES = ("correction", "void", "quarantine_decision", "hold_decision")


@dataclass(frozen=True)
class Reading:
    """value: the figure held against the limits; None where it could not be made."""

    check: Check
    values: tuple[str, ...]
    value: float | None
    limits: Limits | None
    unit: str
    verdict: str


@dataclass(frozen=True)
class Visit:
    """One inspection as it counts now. crew: who did which step; missing: checks left out; body: of
    the record, for its faults and photos.
    """

    checklist: Checklist
    captured_at: str
    inspector: str
    is_first: bool
    disposition: str
    reason: str
    crew: tuple[tuple[Step, str], ...]
    readings: tuple[Reading, ...]
    failed: int
    looked_at: int
    missing: int
    corrected: int
    body: Mapping[str, Any]
    photos: tuple[str, ...]
    photo_figures: tuple[PhotoFigure, ...]


@dataclass(frozen=True)
class Change:
    """A record about an earlier one. kind: of CHANGES; action: of a quarantine_decision accept or
    reject, of a hold_decision what becomes of the stove; of: who made the earlier one, where that
    is another than `by`.
    """

    kind: str
    at: str
    by: str
    reason: str
    action: str
    of: str


@dataclass(frozen=True)
class StageOfWay:
    """key: the article's; visits: oldest first."""

    key: str
    stage: str
    serial: str
    batch: str
    size: str
    disposition: str
    visits: tuple[Visit, ...]
    changes: tuple[Change, ...]


def build_stage(
    key: str, events: Sequence[Mapping[str, Any]], checklists: Mapping[str, Checklist]
) -> StageOfWay | None:
    """None where nothing counts. events: of the article, in log order; checklists: by hash."""
    state = fold_stove(events)
    inspections = state["inspections"]
    if not inspections:
        return None
    first = inspections[0]
    return StageOfWay(
        key,
        key.partition("/")[0],
        first["stove"],
        first["batch"],
        first["body"]["size"],
        state["disposition"],
        tuple(
            _build_visit(one, checklists[one["checklist_hash"]], is_first=one is first)
            for one in inspections
        ),
        tuple(_list_changes(events)),
    )


def _list_changes(events: Sequence[Mapping[str, Any]]) -> Iterable[Change]:
    makers = {event["id"]: event["inspector"] for event in events}
    for event in events:
        if event["kind"] in CHANGES:
            body = event["body"]
            maker = makers.get(event["corrects"], "")
            choice = body.get("disposition") if event["kind"] == "hold_decision" else None
            yield Change(
                event["kind"],
                event["captured_at"],
                event["inspector"],
                choice["reason"] if choice else body.get("reason", ""),
                choice["kind"] if choice else body.get("action", ""),
                maker if maker != event["inspector"] else "",
            )


def _build_visit(inspection: Mapping[str, Any], checklist: Checklist, *, is_first: bool) -> Visit:
    body = inspection["body"]
    context = {"size": body["size"], "batch": body["batch_attributes"]}
    judged = judge_answers(checklist, body["answers"], context)
    verdicts = [one.verdict for one in judged.values()]
    readings = [
        Reading(
            check,
            tuple(body["answers"].get(check.id, {}).get("values") or ()),
            judged[check.id].value,
            check.limits_for(body["size"]),
            name_unit(check.unit),
            judged[check.id].verdict,
        )
        for check in checklist.checks
        if isinstance(check, NumberCheck) and judged[check.id].value is not None
    ]
    return Visit(
        checklist=checklist,
        captured_at=inspection["captured_at"],
        inspector=inspection["inspector"],
        is_first=is_first,
        disposition=body["disposition"]["kind"],
        reason=body["disposition"].get("reason") or "",
        crew=tuple(
            (step, body["crew"][step.id]) for step in checklist.steps if step.id in body["crew"]
        ),
        readings=tuple(readings),
        failed=sum(counts_as_fail(check, judged[check.id].verdict) for check in checklist.checks),
        looked_at=sum(verdict in ("pass", "fail", "doubtful") for verdict in verdicts),
        missing=verdicts.count("missing"),
        corrected=inspection["corrected"],
        body=body,
        photos=tuple(inspection["photos"]),
        photo_figures=tuple(list_photo_figures(checklist, body, judged)),
    )
