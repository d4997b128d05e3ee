"""The yard lead's page about pace: stoves shown in a hurry, and random re-checks with what they showed."""

from fastapi import APIRouter, Request

from qcapp.inspection.stove import fold_stove
from qcapp.inspection.study import RECHECK, RECHECK_ONE_IN, list_study_answers
from qcapp.reports.pace import LEAST_READINGS, LEAST_RUN, QUICK_SECONDS, find_pace_signs
from qcapp.reports.rechecks import RecheckReport, build_recheck_report
from qcapp.store import checklists, log, looks, people
from qcapp.sync.feed import list_rechecks
from qcapp.web.deps import StoreDep
from qcapp.web.pages import page

router = APIRouter(include_in_schema=False)
NEWEST = 400


@router.get("/yard/pace")
def show_pace(request: Request, store: StoreDep):
    with store.reading() as connection:
        signs = find_pace_signs(looks.list_first_events(connection, newest=NEWEST))
        names = {person["code"]: person["name"] for person in people.list_people(connection)}
        asked = list_rechecks(connection)
        report = _load_rechecks(connection)
    return page(
        request, "pace.html", title="Pace and re-checks", signs=signs, names=names, asked=asked, report=report, one_in=RECHECK_ONE_IN,
        quick_seconds=QUICK_SECONDS, least_run=LEAST_RUN, least_readings=LEAST_READINGS, newest=NEWEST, span=span,
    )


def _load_rechecks(connection) -> RecheckReport:
    answers = [answer for answer in list_study_answers(log.list_by_kind(connection, "study_answer")) if answer.study == RECHECK]
    states = {key: fold_stove(events) for key, events in log.list_stove_events(connection, {answer.stove for answer in answers}).items()}
    first = {key: state["inspections"][0] for key, state in states.items() if state["inspections"]}
    known = checklists.load_checklists(connection, {visit["checklist_hash"] for visit in first.values()})
    return build_recheck_report(answers, first, known)


def span(seconds: int) -> str:
    """In words a person says: 50 seconds, 4 minutes."""
    return f"{seconds} seconds" if seconds < 90 else f"{round(seconds / 60)} minutes"
