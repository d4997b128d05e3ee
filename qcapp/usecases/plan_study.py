"""Plan an agreement study, record an inspector's sheet of it, close it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry.batches import Batch, find_batch
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.load_studies import StudyContext, StudySheet, load_studies

MAX_STOVES = 60
MAX_SERIAL = 100


@dataclass(frozen=True)
class StudyPlan:
    """As it was asked for. checklist: the id of one in use; seed: decides the order of the
    looks.
    """

    title: str
    checklist: str
    batch: str
    stoves: Sequence[str]
    inspectors: Sequence[str]
    checks: Sequence[str]
    repeats: int
    seed: str


def plan_study(store: Store, plan: StudyPlan, *, by: str, now: datetime) -> str:
    """The id of the study. Raises BadInput."""
    with store.reading() as connection:
        batch = find_batch(connection, plan.batch)
    chosen = _check_plan(load_studies(store), batch, plan)
    body = {
        "title": plan.title,
        "checklist_hash": chosen.hash,
        "batch": plan.batch,
        "stoves": list(plan.stoves),
        "inspectors": sorted(set(plan.inspectors)),
        "repeats": plan.repeats,
        "checks": [check.id for check in chosen.checks if check.id in plan.checks],
        "seed": plan.seed,
    }
    return record_server_event(store, kind="study", recorder=by, body=body, now=now)


def _check_plan(context: StudyContext, batch: Batch | None, plan: StudyPlan) -> Checklist:
    chosen = next((one for one in context.current if one.id == plan.checklist), None)
    if chosen is None or batch is None or batch["size"] not in chosen.sizes:
        raise BadInput(
            phrase(
                "there is no such checklist or batch, or the checklist has no limits for the "
                "batch's size"
            ),
            "checklist, batch",
            phrase("choose from the lists"),
        )
    is_long = any(len(serial) > MAX_SERIAL for serial in plan.stoves)
    if not 2 <= len(plan.stoves) <= MAX_STOVES or is_long:
        raise BadInput(
            phrase("%(n)s stoves", n=len(plan.stoves)),
            "stoves",
            phrase(
                "name 2 to %(max_stoves)s serials; a useful study needs 20 or more",
                max_stoves=MAX_STOVES,
            ),
        )
    if len(set(plan.inspectors)) < 2 or not set(plan.inspectors) <= set(context.people):
        raise BadInput(
            phrase("at least two inspectors are needed"),
            "inspectors",
            phrase("tick at least two in the list"),
        )
    if not set(plan.checks) & set(chosen.check_by_id):
        raise BadInput(phrase("no check is chosen"), "checks", phrase("tick at least one"))
    return chosen


def record_looks(
    store: Store,
    sheet: StudySheet,
    looks: Iterable[tuple[str, int, dict[str, Any]]],
    now: datetime,
) -> None:
    """looks: (stove, repeat, answers); one that is recorded already is left as it is."""
    for stove, repeat, answers in looks:
        if (stove, repeat) not in sheet.done:
            body = {"study": sheet.study.id, "stove": stove, "repeat": repeat, "answers": answers}
            record_server_event(
                store, kind="study_answer", recorder=sheet.inspector, body=body, now=now
            )


def close_study(store: Store, study_id: str, *, by: str, now: datetime) -> None:
    """Raises NotFound."""
    study = load_studies(store).get_study(study_id)
    record_server_event(store, kind="study", recorder=by, body={"closes": study.id}, now=now)
