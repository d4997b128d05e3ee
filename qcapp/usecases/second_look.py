"""Second looks: which are asked for, what they showed, and recording one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.event import normalize_stove_key
from qcapp.inspection.not_asked import list_not_asked
from qcapp.inspection.stove import fold_stove
from qcapp.inspection.study import SECOND_LOOK, StudyAnswer
from qcapp.reports.inspection_pace import PaceSignal, find_pace_signals
from qcapp.reports.look_errors import SecondLookErrors, find_second_look_errors
from qcapp.reports.second_looks import SecondLookReport, build_second_look_report
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.queries import observations
from qcapp.store.queries.studies import list_study_answers
from qcapp.store.registry import checklists, people
from qcapp.sync.reference import list_second_looks
from qcapp.sync.server_events import record_server_event

NEWEST = 400
NEWEST_ANSWERS = 4000


@dataclass(frozen=True)
class PaceView:
    """names: of people by code; asked: the stoves that wait for a second look."""

    signals: Sequence[PaceSignal]
    names: Mapping[str, str]
    asked: Sequence[Mapping[str, Any]]
    report: SecondLookReport
    errors: SecondLookErrors


@dataclass(frozen=True)
class SecondLook:
    """One that is asked for. checks: those that this stove is asked; inspectors: names of those who
    may look, by code.
    """

    stove: str
    checks: Sequence[Check]
    inspectors: Mapping[str, str]


def load_pace(store: Store) -> PaceView:
    with store.reading() as connection:
        pairs = _list_pairs(connection)
        first_events = observations.list_first_events(connection, newest=NEWEST)
        return PaceView(
            signals=find_pace_signals(first_events),
            names={person["code"]: person["name"] for person in people.list_people(connection)},
            asked=list_second_looks(connection),
            report=build_second_look_report(*pairs),
            errors=find_second_look_errors(*pairs),
        )


def load_look_errors(connection: Connection) -> SecondLookErrors:
    return find_second_look_errors(*_list_pairs(connection))


def _list_pairs(
    connection: Connection,
) -> tuple[list[StudyAnswer], dict[str, dict[str, Any]], dict[str, Checklist]]:
    """Second looks, the first inspection of each stove, the checklists of these."""
    given = list_study_answers(connection, newest=NEWEST_ANSWERS)
    answers = [
        replace(answer, stove=normalize_stove_key(answer.stove))
        for answer in given
        if answer.study == SECOND_LOOK
    ]
    events = log.list_stove_events(connection, {answer.stove for answer in answers})
    states = {key: fold_stove(of_stove) for key, of_stove in events.items()}
    first = {key: state["inspections"][0] for key, state in states.items() if state["inspections"]}
    known = checklists.load_checklists(
        connection, {inspection["checklist_hash"] for inspection in first.values()}
    )
    return answers, first, known


def load_second_look(store: Store, stove: str) -> SecondLook:
    """Raises NotFound for a stove that waits for none."""
    with store.reading() as connection:
        asked = next((one for one in list_second_looks(connection) if one["stove"] == stove), None)
        if asked is None:
            raise NotFound(
                phrase("this stove needs no second look"),
                stove,
                phrase("see the page Pace and second looks"),
            )
        key = normalize_stove_key(stove)
        first = fold_stove(log.list_stove_events(connection, [key])[key])["inspections"][0]
        checklist_hash = first["checklist_hash"]
        checklist = checklists.load_checklists(connection, [checklist_hash])[checklist_hash]
        inspectors = {
            person["code"]: person["name"]
            for person in people.list_people(connection)
            if person["is_inspector"]
            and not person["has_left"]
            and person["code"] != asked["but_inspector"]
        }
    return SecondLook(stove, _list_checks(checklist, first["body"]), inspectors)


def _list_checks(checklist: Checklist, body: Mapping[str, Any]) -> list[Check]:
    batch = {"size": body["size"], "attributes": body["batch_attributes"]}
    left_out = list_not_asked(checklist, batch)
    return [
        check
        for check in checklist.checks
        if check.answer_key is not None and check.id not in left_out
    ]


def record_second_look(
    store: Store, stove: str, inspector: str, answers: Mapping[str, Any], now: datetime
) -> None:
    body = {"study": SECOND_LOOK, "stove": stove, "repeat": 1, "answers": answers}
    record_server_event(store, kind="study_answer", recorder=inspector, body=body, now=now)
