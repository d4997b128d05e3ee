"""The yard lead's pages about agreement: plan a study, fill in a sheet, read what it shows."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.study import Study, StudyAnswer, order_looks
from qcapp.reports.agreement import ReadingAgreement
from qcapp.reports.studies import build_study_report
from qcapp.store.queries.studies import list_studies, list_study_answers
from qcapp.store.registry import batches, checklists, people
from qcapp.sync.server_events import record_server_event
from qcapp.web.deps import LongFormDep, NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.measuring.sheet import build_sheet, read_sheet
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
MAX_STOVES = 60


@dataclass(frozen=True)
class StudyContext:
    """One consistent view: studies newest first, answers, what they are held against."""

    studies: tuple[Study, ...]
    answers: tuple[StudyAnswer, ...]
    current: tuple[Checklist, ...]
    checklists: Mapping[str, Checklist]
    people: Mapping[str, Mapping]
    batches: Mapping[str, Mapping]

    def get_study(self, study_id: str) -> Study:
        found = next((study for study in self.studies if study.id == study_id), None)
        if found is None or found.checklist_hash not in self.checklists:
            raise NotFound(
                phrase("there is no such study"), study_id, phrase("see the list of studies")
            )
        return found

    def context_of(self, study: Study) -> dict:
        batch = self.batches.get(study.batch, {"size": "", "attributes": {}})
        return {"size": batch["size"], "batch": batch["attributes"]}

    def list_checks(self, study: Study) -> list:
        known = self.checklists[study.checklist_hash].check_by_id
        return [
            known[check]
            for check in study.checks
            if check in known and known[check].kind != "calculated"
        ]


def load_context(store) -> StudyContext:
    with store.reading() as connection:
        studies = list_studies(connection)
        return StudyContext(
            studies=tuple(studies[::-1]),
            answers=tuple(list_study_answers(connection)),
            current=tuple(checklists.list_current_checklists(connection)),
            checklists=checklists.load_checklists(
                connection, {study.checklist_hash for study in studies}
            ),
            people={person["code"]: person for person in people.list_people(connection)},
            batches={batch["code"]: batch for batch in batches.list_batches(connection)},
        )


def find_studied(
    room: StudyContext, check: str, size: str
) -> tuple[Study, ReadingAgreement] | None:
    """The newest study in which two inspectors or more read this check at this size, and what it found."""
    for study in room.studies:
        if (
            check in study.checks
            and study.checklist_hash in room.checklists
            and room.context_of(study)["size"] == size
        ):
            report = build_study_report(
                study, room.answers, room.checklists[study.checklist_hash], room.context_of(study)
            )
            found = next((row.readings for row in report.checks if row.check.id == check), None)
            if found:
                return study, found
    return None


@router.get("/yard/studies", dependencies=[allow("measure")])
def show_studies(request: Request, store: StoreDep, checklist: str = ""):
    room = load_context(store)
    usual = sorted(room.current, key=lambda one: one.stage != "finished")
    chosen = next((one for one in room.current if one.id == checklist), usual[0] if usual else None)
    return page(
        request,
        "measuring/studies.html",
        title=phrase("Do inspectors agree"),
        room=room,
        chosen=chosen,
        done=_count_done(room),
    )


def _count_done(room: StudyContext) -> dict[str, int]:
    counts: dict[str, int] = {}
    for answer in room.answers:
        counts[answer.study] = counts.get(answer.study, 0) + 1
    return counts


@router.post("/yard/studies", dependencies=[allow("measure", "study_planned")])
def add_study(
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
    title: Annotated[str, Form(min_length=1, max_length=100)],
    checklist: Annotated[str, Form()],
    batch: Annotated[str, Form()],
    stoves: Annotated[str, Form(max_length=4000)],
    inspectors: Annotated[list[str], Form()],
    checks: Annotated[list[str], Form()],
    repeats: Annotated[int, Form(ge=1, le=5)] = 2,
):
    room = load_context(store)
    chosen = next((one for one in room.current if one.id == checklist), None)
    serials = list(dict.fromkeys(stoves.replace(",", " ").split()))
    _check_plan(room, chosen, batch, serials, inspectors, checks)
    body = {
        "title": title.strip() or "Study",
        "checklist_hash": chosen.hash,
        "batch": batch,
        "stoves": serials,
        "inspectors": sorted(set(inspectors)),
        "repeats": repeats,
        "checks": [check.id for check in chosen.checks if check.id in checks],
        "seed": secrets.token_hex(8),
    }
    study_id = record_server_event(store, kind="study", recorder=caller.code, body=body, now=now)
    return RedirectResponse(f"/yard/studies/{study_id}", status_code=303)


def _check_plan(
    room: StudyContext,
    chosen: Checklist | None,
    batch: str,
    serials: list[str],
    inspectors: list[str],
    checks: list[str],
) -> None:
    if (
        chosen is None
        or batch not in room.batches
        or room.batches[batch]["size"] not in chosen.sizes
    ):
        raise BadInput(
            phrase(
                "no such checklist or batch, or the batch has a size the checklist does not know"
            ),
            "checklist, batch",
            phrase("choose from the lists"),
        )
    if not 2 <= len(serials) <= MAX_STOVES or any(len(serial) > 100 for serial in serials):
        raise BadInput(
            phrase("%(n)s stoves", n=len(serials)),
            "stoves",
            phrase(
                "name 2 to %(max_stoves)s serials; 20 or more say something",
                max_stoves=MAX_STOVES,
            ),
        )
    if len(set(inspectors)) < 2 or not set(inspectors) <= set(room.people):
        raise BadInput(
            phrase("two inspectors at least are needed"),
            "inspectors",
            phrase("tick two of the list"),
        )
    if not set(checks) & set(chosen.check_by_id):
        raise BadInput(phrase("no check is chosen"), "checks", phrase("tick at least one"))


@router.get("/yard/studies/{study_id}", dependencies=[allow("measure")])
def show_study(request: Request, study_id: str, store: StoreDep):
    room = load_context(store)
    study = room.get_study(study_id)
    report = build_study_report(
        study, room.answers, room.checklists[study.checklist_hash], room.context_of(study)
    )
    return page(
        request, "measuring/study.html", title=study.title, study=study, report=report, room=room
    )


@router.post("/yard/studies/{study_id}/close", dependencies=[allow("measure", "study_closed")])
def close_study(study_id: str, store: StoreDep, now: NowDep, caller: CallerDep):
    study = load_context(store).get_study(study_id)
    record_server_event(
        store, kind="study", recorder=caller.code, body={"closes": study.id}, now=now
    )
    return RedirectResponse(f"/yard/studies/{study.id}", status_code=303)


@router.get("/yard/studies/{study_id}/sheet/{inspector}", dependencies=[allow("measure")])
def show_sheet(request: Request, study_id: str, inspector: str, store: StoreDep):
    room, study = _find_sheet(store, study_id, inspector)
    return _sheet_page(request, room, study, inspector, {}, "")


@router.post(
    "/yard/studies/{study_id}/sheet/{inspector}",
    dependencies=[allow("measure", "study_sheet_entered")],
)
def add_sheet(
    request: Request, study_id: str, inspector: str, store: StoreDep, now: NowDep, form: LongFormDep
):
    room, study = _find_sheet(store, study_id, inspector)
    try:
        looks = read_sheet(form, order_looks(study, inspector), room.list_checks(study))
    except BadInput as error:
        # The page comes back with everything that was typed.
        return _sheet_page(request, room, study, inspector, form, str(error))
    known = {
        (answer.stove, answer.repeat)
        for answer in room.answers
        if (answer.study, answer.inspector) == (study.id, inspector)
    }
    for stove, repeat, answers in looks:
        if (stove, repeat) not in known:
            body = {"study": study.id, "stove": stove, "repeat": repeat, "answers": answers}
            record_server_event(store, kind="study_answer", recorder=inspector, body=body, now=now)
    return RedirectResponse(f"/yard/studies/{study.id}", status_code=303)


def _find_sheet(store, study_id: str, inspector: str) -> tuple[StudyContext, Study]:
    room = load_context(store)
    study = room.get_study(study_id)
    if inspector not in study.inspectors:
        raise NotFound(
            phrase("this inspector is not in the study"), inspector, phrase("see the study's page")
        )
    return room, study


def _sheet_page(
    request: Request, room: StudyContext, study: Study, inspector: str, typed: dict, error: str
):
    known = {
        (answer.stove, answer.repeat)
        for answer in room.answers
        if (answer.study, answer.inspector) == (study.id, inspector)
    }
    name = room.people.get(inspector, {}).get("name", inspector)
    answer = page(
        request,
        "measuring/study_sheet.html",
        title=phrase("%(title)s: sheet of %(name)s", title=study.title, name=name),
        study=study,
        inspector=inspector,
        sheet=build_sheet(order_looks(study, inspector), room.list_checks(study), known, typed),
        error=error,
    )
    answer.status_code = 400 if error else 200
    return answer
