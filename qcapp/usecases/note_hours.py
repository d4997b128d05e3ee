"""Note hours of skilled work, void such a note, show them beside faults."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from pydantic import Field

from qcapp.checklist.history import list_works
from qcapp.checklist.items import Step
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.inspection.number import parse_number
from qcapp.reports.hours import HoursRow, PieceCount, WorkHours, build_hours_rows
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.queries import hours_queries
from qcapp.store.registry import people
from qcapp.store.registry.checklists import load_history
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.form import TypedForm

# Notes that a page shows; older ones stay in the records.
MAX_SHOWN = 100
MAX_PIECES = 100_000


class HoursForm(TypedForm):
    """step: empty for the whole stove."""

    step: str = ""
    people: list[str] = Field(default_factory=list)
    hours: str = ""
    pieces: str = ""
    since: str = ""
    until: str = ""


@dataclass(frozen=True)
class HoursView:
    rows: list[HoursRow]
    works: Mapping[str, list[Step]]
    people: Mapping[str, Mapping[str, Any]]
    titles: Mapping[str, Mapping[str, str]]
    stages: Mapping[str, str]


def load_hours(store: Store) -> HoursView:
    """The newest notes, each with the faults that were found between its days."""
    with store.reading() as connection:
        history = load_history(connection)
        notes = _list_notes(log.list_by_kind(connection, "work_hours"))[-MAX_SHOWN:]
        known = {person["code"]: person for person in people.list_people(connection)}
        counts = {
            note.id: [
                PieceCount(*row)
                for row in hours_queries.count_pieces(
                    connection, note.step, note.artisans, note.since, note.until
                )
            ]
            for note in notes
        }
    works = list_works(history.current.values())
    rows = build_hours_rows(notes, counts, works, known)
    return HoursView(rows, works, known, history.titles, history.stages)


def _list_notes(events: Iterable[Mapping[str, Any]]) -> list[WorkHours]:
    events = list(events)
    struck = {event["body"].get("withdraws") for event in events}
    return [
        WorkHours(
            event["id"],
            body.get("step"),
            tuple(body["artisans"]),
            Decimal(body["hours"]),
            body["pieces"],
            body["since"],
            body["until"],
        )
        for event in events
        if not (body := event["body"]).get("withdraws") and event["id"] not in struck
    ]


def note_hours(store: Store, form: HoursForm, *, by: str, now: datetime) -> None:
    """Refuses what is no number or day, who is not known, and what was noted already."""
    view = load_hours(store)
    days = {name: _read_day(form, name, now.date()) for name in ("since", "until")}
    hours = parse_number(form.hours)
    if hours is None or Decimal(hours) == 0:
        form.refuse("hours", phrase("write the hours as a number above nought, such as 12.5"))
    is_count = form.pieces.isascii() and form.pieces.isdigit()
    if not is_count or not 0 < int(form.pieces) <= MAX_PIECES:
        form.refuse("pieces", phrase("write how many pieces as a whole number"))
    if form.step and form.step not in view.works:
        form.refuse("step", phrase("choose a step from the list"))
    if not form.people or any(code not in view.people for code in form.people):
        form.refuse("people", phrase("tick who did the work"))
    if days["since"] > days["until"]:
        form.refuse("until", phrase("the last day is before the first"))
    if form.wrong or hours is None:
        return
    body = {
        "step": form.step or None,
        "artisans": sorted(set(form.people)),
        "hours": hours,
        "pieces": int(form.pieces),
        "since": days["since"],
        "until": days["until"],
    }
    new = _list_notes([{"id": "", "body": body}])[0]
    with store.reading() as connection:
        notes = _list_notes(log.list_by_kind(connection, "work_hours"))
    if any(new.overlaps(note) for note in notes):
        text = phrase("there is a note of these people, work and days already; void that one first")
        form.refuse("since", text)
        return
    record_server_event(store, kind="work_hours", recorder=by, body=body, now=now)


def _read_day(form: HoursForm, name: str, today: date) -> str:
    """ISO; a day that is none or in the future is refused."""
    try:
        day = date.fromisoformat(form.get(name))
    except ValueError:
        form.refuse(name, phrase("choose a day"))
        return ""
    if day > today:
        form.refuse(name, phrase("the day is in the future"))
    return day.isoformat()


def withdraw_hours(store: Store, note_id: str, *, by: str, now: datetime) -> None:
    """Raises NotFound."""
    if note_id not in {row.note.id for row in load_hours(store).rows}:
        raise NotFound(phrase("there is no such note"), note_id, phrase("reload the page of hours"))
    body = {"withdraws": note_id}
    record_server_event(store, kind="work_hours", recorder=by, body=body, now=now)
