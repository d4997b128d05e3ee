"""Note who works with which template, that one was replaced, or withdraw such a note."""

from collections.abc import Sequence
from datetime import date, datetime

from qcapp.errors import BadInput, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.load_measuring import Measuring, load_measuring


def note_template(
    store: Store,
    settings: Settings,
    *,
    step: str,
    name: str,
    artisans: Sequence[str],
    by: str,
    now: datetime,
) -> None:
    """Raises BadInput."""
    _check_who(load_measuring(store, settings), step, artisans)
    body = {"step": step, "name": name, "artisans": sorted(set(artisans))}
    record_server_event(store, kind="template", recorder=by, body=body, now=now)


def note_replacement(
    store: Store,
    settings: Settings,
    *,
    step: str,
    artisans: Sequence[str],
    on: date,
    note: str,
    by: str,
    now: datetime,
) -> None:
    """Raises BadInput."""
    _check_who(load_measuring(store, settings), step, artisans)
    if on > now.date():
        raise BadInput(
            phrase("the day is in the future"), "on", phrase("record it when it has happened")
        )
    body = {"step": step, "artisans": sorted(set(artisans)), "on": on.isoformat(), "note": note}
    record_server_event(store, kind="template_replaced", recorder=by, body=body, now=now)


def withdraw_note(
    store: Store, settings: Settings, event_id: str, *, by: str, now: datetime
) -> None:
    """Raises NotFound."""
    measuring = load_measuring(store, settings)
    kinds = {one.id: "template" for one in measuring.templates} | {
        one.id: "template_replaced" for one in measuring.replacements
    }
    if event_id not in kinds:
        raise NotFound(
            phrase("there is no such record"), event_id, phrase("reload the page about drift")
        )
    body = {"withdraws": event_id}
    record_server_event(store, kind=kinds[event_id], recorder=by, body=body, now=now)


def _check_who(measuring: Measuring, step: str, artisans: Sequence[str]) -> None:
    unknown = [code for code in artisans if code not in measuring.people]
    if step not in measuring.works or unknown:
        raise BadInput(
            phrase("there is no such step or artisan"),
            ", ".join([step, *unknown]),
            phrase("choose from the lists"),
        )
