"""The page of one record held back: what, why, who sent it; accept it, or reject it."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Path, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from qcapp.errors import BadInput
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import batches, checklists, drawings, people, photos
from qcapp.store.registry.devices import list_device_names
from qcapp.sync.load_facts import load_facts
from qcapp.sync.photos import list_photo_names
from qcapp.sync.push import IMPORTED
from qcapp.sync.quarantine import (
    find_first_content,
    get_record,
    list_strangers,
)
from qcapp.sync.quarantine_decisions import accept, reject
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow
from qcapp.web.yard.quarantine_form import DECIDE, QuarantineForm, decision_page, read_reason
from qcapp.web.yard.record_view import RecordView, describe_record

router = APIRouter(include_in_schema=False)
SeqPath = Annotated[int, Path(ge=1, lt=2**53)]


@router.get("/yard/quarantine/{seq}", dependencies=[allow(DECIDE)])
def show_record(request: Request, seq: SeqPath, store: StoreDep) -> HTMLResponse:
    return _record_page(request, store, seq)


@router.post(
    "/yard/quarantine/{seq}",
    dependencies=[allow(DECIDE, "quarantine_decided")],
)
def decide(
    request: Request,
    seq: SeqPath,
    form: Annotated[QuarantineForm, Form()],
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
) -> Response:
    try:
        decided = {"reason": read_reason(form), "seen": form.seen, "by": caller.code or ""}
        if form.action == "accept":
            accept(store, seq, mapping=_read_mapping(form), now=now, **decided)
        else:
            reject(store, seq, now=now, **decided)
    except BadInput as error:
        return _record_page(request, store, seq, form, error)
    return RedirectResponse(f"/yard/quarantine/{seq}", status_code=303)


def _read_mapping(form: QuarantineForm) -> dict[str, dict[str, str]]:
    """Those left open are no mapping."""
    mapping: dict[str, dict[str, str]] = {}
    for field, chosen in form.values.items():
        kind, _, old = field.partition(".")
        if old and chosen:
            mapping.setdefault(kind, {})[old] = chosen
    return mapping


def _record_page(
    request: Request,
    store: Store,
    seq: int,
    form: QuarantineForm | None = None,
    error: BadInput | None = None,
) -> HTMLResponse:
    with store.reading() as connection:
        record = get_record(connection, seq)
        first = find_first_content(connection, record)
        facts = load_facts(
            connection, [record.content.get("checklist_hash")], [record.content.get("batch")]
        )
        values = {
            "record": record,
            "sender": list_device_names(connection).get(
                record.device_id, phrase("a phone that never joined here")
            ),
            "carrier": _name_carrier(connection, record.relayed_by),
            "carrier_of_first": _name_carrier(connection, first.relayed_by) if first else None,
            "told": _describe(connection, record.content) if record.is_event else None,
            "told_first": _describe(connection, first.content)
            if first and record.is_event
            else None,
            "strangers": list_strangers(record, facts),
            "people": people.list_people(connection),
            "batches": batches.list_current_batches(connection),
        }
    title = phrase("Record %(seq)s, held back", seq=str(seq))
    return decision_page(
        request, "yard/quarantined_record.html", form, error, title=title, **values
    )


def _name_carrier(connection: Connection, relayed_by: str | None) -> Phrase | str:
    """Who handed it in."""
    if relayed_by == IMPORTED:
        return phrase("a file that was imported")
    names = list_device_names(connection)
    return names.get(relayed_by or "", phrase("a phone that never joined here"))


def _describe(connection: Connection, content: dict[str, Any]) -> RecordView:
    names = {person["code"]: person["name"] for person in people.list_people(connection)}
    key = content["checklist_hash"]
    known = checklists.load_checklists(connection, [key])
    named = list(dict.fromkeys(list_photo_names(content)))
    whole = photos.list_whole(connection, named)
    return describe_record(
        content,
        known.get(key),
        names,
        [(name, name in whole) for name in named],
        drawings.list_shown_here(connection, key, known[key].compiled()) if key in known else {},
    )
