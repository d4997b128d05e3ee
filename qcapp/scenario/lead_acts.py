"""What the yard lead and the trainer do in the scenario: templates, lessons, studies."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from random import Random
from typing import Any

from qcapp.inspection.study import Study
from qcapp.scenario.model import utc_text
from qcapp.scenario.records import ScenarioStudy
from qcapp.scenario.schedule import Schedule
from qcapp.scenario.seal import build_id

LEAD, TRAINER = "yard lead", "trainer"
# After the work of the day.
EVENING_MIN = 17 * 60


@dataclass(frozen=True)
class LeadAct:
    """A record that the server makes: its id, kind, who recorded it, when (UTC) and its body."""

    id: str
    kind: str
    recorder: str
    at: datetime
    body: dict[str, Any]


def list_lead_acts(schedule: Schedule) -> list[LeadAct]:
    """In the order in which they were recorded."""
    return sorted(_list_acts(schedule), key=lambda act: (act.at, act.id))


def _list_acts(schedule: Schedule) -> Iterator[LeadAct]:
    scenario = schedule.scenario
    begun = max(batch.opened_days_ago for batch in scenario.batches)
    for template in scenario.templates:
        body: dict[str, Any] = {
            "step": template.step,
            "name": template.name,
            "artisans": list(template.artisans),
        }
        yield _build_act(schedule, "template", LEAD, begun, body)
    for lesson in scenario.lessons:
        held_on = schedule.get_time(lesson.days_ago, EVENING_MIN).date().isoformat()
        people = sorted(lesson.artisans)
        body = {"held_on": held_on, "step": lesson.step, "people": people, "note": lesson.note}
        yield _build_act(schedule, "lesson", TRAINER, lesson.days_ago, body)
    for told in scenario.studies:
        study = build_study(schedule, told)
        body = {
            "title": study.title,
            "checklist_hash": study.checklist_hash,
            "batch": study.batch,
            "stoves": list(study.stoves),
            "inspectors": list(study.inspectors),
            "repeats": study.repeats,
            "checks": list(study.checks),
            "seed": study.seed,
        }
        yield _build_act(schedule, "study", LEAD, told.days_ago + 1, body)


def _build_act(
    schedule: Schedule, kind: str, recorder: str, days_ago: int, body: dict[str, Any]
) -> LeadAct:
    at = schedule.get_time(days_ago, EVENING_MIN)
    return LeadAct(_draw_id(schedule, kind, at, body), kind, recorder, at, body)


def _draw_id(schedule: Schedule, kind: str, at: datetime, body: dict[str, Any]) -> str:
    name = body.get("title") or body.get("name") or body.get("step")
    rng = Random(f"{schedule.seed}/{kind}/{name}/{at}")  # noqa: S311 -- an invented yard
    return build_id(at, rng.getrandbits(80))


def build_study(schedule: Schedule, told: ScenarioStudy) -> Study:
    """The study as planned; its id is that of the record. Raises BadInput for a checklist that is
    not there.
    """
    at = schedule.get_time(told.days_ago + 1, EVENING_MIN)
    checklist = schedule.get_checklist(told.checklist)
    batch = next(one for one in schedule.scenario.batches if one.code == told.batch)
    return Study(
        id=_draw_id(schedule, "study", at, {"title": told.title}),
        title=told.title,
        planned_at=utc_text(at),
        checklist_hash=checklist.hash,
        batch=told.batch,
        stoves=tuple(f"{batch.serial_prefix}{number:03d}" for number in told.stoves),
        inspectors=tuple(sorted(told.inspectors)),
        repeats=told.repeats,
        checks=tuple(check.id for check in checklist.checks if check.id in told.checks),
        seed=f"{schedule.seed}/{told.title}",
        is_open=True,
    )
