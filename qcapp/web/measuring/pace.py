"""The yard lead's page about pace: stoves shown in a hurry, and random second looks with what they showed."""

from collections.abc import Mapping

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse

from qcapp.checklist.model import Check
from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase, phrase_n
from qcapp.inspection.judge import judge_answers
from qcapp.inspection.stove import fold_stove
from qcapp.inspection.study import SECOND_LOOK, SECOND_LOOK_ONE_IN
from qcapp.reports.inspection_pace import MIN_READINGS, MIN_RUN, QUICK_SECONDS, find_pace_signals
from qcapp.reports.second_looks import SecondLookReport, build_second_look_report
from qcapp.store import log
from qcapp.store.queries import observations
from qcapp.store.queries.studies import list_study_answers
from qcapp.store.registry import checklists, people
from qcapp.sync.reference import list_second_looks
from qcapp.sync.server_events import record_server_event
from qcapp.web.deps import LongFormDep, NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.measuring.sheet import build_sheet, read_sheet
from qcapp.web.rules import allow

router = APIRouter(include_in_schema=False)
NEWEST = 400
NEWEST_ANSWERS = 4000


@router.get("/yard/pace", dependencies=[allow("measure")])
def show_pace(request: Request, store: StoreDep):
    with store.reading() as connection:
        signs = find_pace_signals(observations.list_first_events(connection, newest=NEWEST))
        names = {person["code"]: person["name"] for person in people.list_people(connection)}
        asked = list_second_looks(connection)
        report = _load_second_looks(connection)
    return page(
        request,
        "measuring/pace.html",
        title=phrase("Pace and second looks"),
        signs=signs,
        names=names,
        asked=asked,
        report=report,
        one_in=SECOND_LOOK_ONE_IN,
        quick_seconds=QUICK_SECONDS,
        min_run=MIN_RUN,
        min_readings=MIN_READINGS,
        newest=NEWEST,
        span=span,
    )


def _load_second_looks(connection) -> SecondLookReport:
    given = list_study_answers(connection, newest=NEWEST_ANSWERS)
    answers = [answer for answer in given if answer.study == SECOND_LOOK]
    states = {
        key: fold_stove(events)
        for key, events in log.list_stove_events(
            connection, {answer.stove for answer in answers}
        ).items()
    }
    first = {key: state["inspections"][0] for key, state in states.items() if state["inspections"]}
    known = checklists.load_checklists(
        connection, {inspection["checklist_hash"] for inspection in first.values()}
    )
    return build_second_look_report(answers, first, known)


@router.get("/yard/pace/{stage}/{serial}", dependencies=[allow("measure")])
def show_second_look(request: Request, stage: str, serial: str, store: StoreDep):
    return _sheet_page(request, store, f"{stage}/{serial}", {}, "")


@router.post("/yard/pace/{stage}/{serial}", dependencies=[allow("measure", "second_look_entered")])
def add_second_look(
    request: Request, stage: str, serial: str, store: StoreDep, now: NowDep, form: LongFormDep
):
    key = f"{stage}/{serial}"
    asked, checks, inspectors = _load_second_look(store, key)
    try:
        if form.get("inspector") not in inspectors:
            raise BadInput(
                phrase("another inspector looks again"), "inspector", phrase("choose from the list")
            )
        ((_stove, _repeat, answers),) = read_sheet(form, [(serial, 1)], checks)
    except BadInput as error:
        return _sheet_page(request, store, key, form, str(error))
    body = {"study": SECOND_LOOK, "stove": asked["stove"], "repeat": 1, "answers": answers}
    record_server_event(store, kind="study_answer", recorder=form["inspector"], body=body, now=now)
    return RedirectResponse("/yard/pace", status_code=303)


def _load_second_look(store, key: str) -> tuple[dict, list[Check], dict[str, str]]:
    """(what is asked, checks that this stove is asked, names of those who may look by code)."""
    with store.reading() as connection:
        asked = next((one for one in list_second_looks(connection) if one["stove"] == key), None)
        if asked is None:
            raise NotFound(
                phrase("this stove waits for no second look"),
                key,
                phrase("see the page about pace"),
            )
        first = fold_stove(log.list_stove_events(connection, [key])[key])["inspections"][0]
        checklist = checklists.load_checklists(connection, [first["checklist_hash"]])[
            first["checklist_hash"]
        ]
        inspectors = {
            person["code"]: person["name"]
            for person in people.list_people(connection)
            if person["is_inspector"] and not person["has_left"]
        }
    context = {"size": first["body"]["size"], "batch": first["body"]["batch_attributes"]}
    asks = {
        check_id
        for check_id, found in judge_answers(checklist, {}, context).items()
        if found.reason != "condition-not-met"
    }
    checks = [
        check for check in checklist.checks if check.id in asks and check.kind != "calculated"
    ]
    return (
        asked,
        checks,
        {code: name for code, name in inspectors.items() if code != asked["but_inspector"]},
    )


def _sheet_page(request: Request, store, key: str, typed: Mapping[str, str], error: str):
    asked, checks, inspectors = _load_second_look(store, key)
    serial = key.partition("/")[2]
    answer = page(
        request,
        "measuring/second_look_sheet.html",
        title=phrase("Second look at %(serial)s", serial=serial),
        key=key,
        inspectors=inspectors,
        typed=typed,
        error=error,
        row=build_sheet([(serial, 1)], checks, (), typed)[0],
    )
    answer.status_code = 400 if error else 200
    return answer


def span(seconds: int) -> str:
    """In words a person says: 50 seconds, 4 minutes."""
    return (
        phrase_n("%(n)s second", "%(n)s seconds", seconds)
        if seconds < 90
        else phrase("%(n)s minutes", n=round(seconds / 60))
    )
