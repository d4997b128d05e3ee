"""The yard lead's page of records set aside: what, why, who sent it; accept it, or reject it."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Path, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, Field, StringConstraints

from qcapp.errors import BadInput
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import batches, checklists, devices, drawings, people, photos
from qcapp.sync.brought_drawings import list_refusals
from qcapp.sync.load_facts import load_facts
from qcapp.sync.photos import list_photo_names
from qcapp.sync.push import IMPORTED
from qcapp.sync.quarantine import (
    QuarantinedRecord,
    find_counting_content,
    get_record,
    list_records,
    list_strangers,
)
from qcapp.sync.quarantine_decisions import accept, reject
from qcapp.sync.quarantine_groups import list_groups, reject_group
from qcapp.sync.unpublished import (
    accept_checklist,
    get_brought,
    list_brought,
    reject_checklist,
)
from qcapp.usecases.form import OpenForm
from qcapp.web.deps import NowDep, StoreDep
from qcapp.web.layout.page import page
from qcapp.web.middleware.authorisation import CallerDep
from qcapp.web.rules import allow
from qcapp.web.yard.record_view import RecordView, describe_record

router = APIRouter(include_in_schema=False)
DECIDE = "decide_quarantine"
HashPath = Annotated[str, Path(pattern="^[0-9a-f]{64}$")]
SeqPath = Annotated[int, Path(ge=1, lt=2**53)]
MAX_SHOWN = 200
MAX_REASON = 500


class QuarantineForm(OpenForm):
    """seen: the decision that the page showed. Further fields: artisan.A77, with the code
    chosen.
    """

    action: str = ""
    reason: str = ""
    seen: str = ""


class GroupForm(BaseModel):
    """What the page showed of a group; see HeldGroup."""

    sender: Annotated[str, StringConstraints(max_length=200)]
    code: Annotated[str, StringConstraints(max_length=64)]
    last: Annotated[int, Field(ge=1, lt=2**53)]
    reason: Annotated[str, StringConstraints(min_length=1, max_length=MAX_REASON)]


@router.get("/yard/quarantine", dependencies=[allow(DECIDE)])
def show_quarantined(request: Request, store: StoreDep) -> HTMLResponse:
    with store.reading() as connection:
        records = list_records(connection)
        names = _list_device_names(connection)
        brought = list_brought(connection)
    waiting = [record for record in records if record.decision is None]
    decided = [record for record in records if record.decision is not None]
    return page(
        request,
        "yard/quarantine.html",
        title=phrase("Records held back"),
        waiting=waiting,
        decided=decided,
        brought=brought,
        groups=list_groups(waiting),
        names=names,
        most=MAX_SHOWN,
    )


@router.post(
    "/yard/quarantine",
    dependencies=[allow(DECIDE, "records_rejected")],
)
def reject_all(
    request: Request,
    form: Annotated[GroupForm, Form()],
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
) -> Response:
    count = reject_group(store, **form.model_dump(), by=caller.code or "", now=now)
    request.state.about = {"records": str(count), "sender": form.sender[:64], "reason": form.code}
    return RedirectResponse("/yard/quarantine", status_code=303)


@router.get("/yard/quarantine/checklists/{checklist_hash}", dependencies=[allow(DECIDE)])
def show_brought(request: Request, checklist_hash: HashPath, store: StoreDep) -> HTMLResponse:
    return _brought_page(request, store, checklist_hash)


@router.post(
    "/yard/quarantine/checklists/{checklist_hash}",
    dependencies=[allow(DECIDE, "brought_checklist_decided")],
)
def decide_brought(
    request: Request,
    checklist_hash: HashPath,
    form: Annotated[QuarantineForm, Form()],
    store: StoreDep,
    now: NowDep,
    caller: CallerDep,
) -> Response:
    try:
        reason = _read_reason(form)
    except BadInput as error:
        return _brought_page(request, store, checklist_hash, form, error)
    by = caller.code or ""
    if form.action == "accept":
        accept_checklist(store, checklist_hash, reason=reason, by=by, now=now)
    else:
        reject_checklist(store, checklist_hash, reason=reason, by=by, now=now)
    return RedirectResponse("/yard/quarantine", status_code=303)


def _brought_page(
    request: Request,
    store: Store,
    checklist_hash: str,
    form: QuarantineForm | None = None,
    error: BadInput | None = None,
) -> HTMLResponse:
    with store.reading() as connection:
        brought = get_brought(connection, checklist_hash)
        names = _list_device_names(connection)
        refusals = list_refusals(connection, checklist_hash)
    answer = page(
        request,
        "yard/brought_checklist.html",
        title=phrase("Checklist of records held back"),
        brought=brought,
        refusals=refusals,
        names=names,
        form=form or QuarantineForm(),
        error=error,
    )
    answer.status_code = error.status if error else 200
    return answer


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
        decided = {"reason": _read_reason(form), "seen": form.seen, "by": caller.code or ""}
        if form.action == "accept":
            accept(store, seq, mapping=_read_mapping(form), now=now, **decided)
        else:
            reject(store, seq, now=now, **decided)
    except BadInput as error:
        return _record_page(request, store, seq, form, error)
    return RedirectResponse(f"/yard/quarantine/{seq}", status_code=303)


def _read_reason(form: QuarantineForm) -> str:
    if not 0 < len(form.reason) <= MAX_REASON:
        raise BadInput(
            phrase(
                "%(field)s is missing or longer than %(most)s characters",
                field="reason",
                most=MAX_REASON,
            ),
            "reason",
            phrase("write it and send it again"),
        )
    return form.reason


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
        counting = find_counting_content(connection, record)
        facts = load_facts(
            connection, [record.content.get("checklist_hash")], [record.content.get("batch")]
        )
        values = {
            "record": record,
            "sender": _list_device_names(connection).get(
                record.device_id, phrase("a phone that never joined here")
            ),
            "carrier": _name_carrier(connection, record),
            "told": _describe(connection, record.content) if record.is_event else None,
            "told_counting": _describe(connection, counting)
            if counting and record.is_event
            else None,
            "strangers": list_strangers(record, facts),
            "people": people.list_people(connection),
            "batches": batches.list_current_batches(connection),
        }
    answer = page(
        request,
        "yard/quarantined_record.html",
        title=phrase("Record %(seq)s, held back", seq=str(seq)),
        form=form or QuarantineForm(),
        error=error,
        **values,
    )
    answer.status_code = error.status if error else 200
    return answer


def _name_carrier(connection: Connection, record: QuarantinedRecord) -> Phrase | str:
    """Who handed it in."""
    if record.relayed_by == IMPORTED:
        return phrase("a file that was imported")
    names = _list_device_names(connection)
    return names.get(record.relayed_by or "", phrase("a phone that never joined here"))


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


def _list_device_names(connection: Connection) -> dict[str, str]:
    return {row.id: row.name for row in devices.list_devices(connection)}
