"""The yard lead's page of batches: open one, change it, close it, open it again."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse

from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.inspection.serial import CHECKED
from qcapp.scenario.yard_file import YardBatch, list_crew_faults, read_shape
from qcapp.store.engine import Store
from qcapp.store.queries import batch_figures
from qcapp.store.registry import batches
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.set_up_yard import YardState, load_state, read_state
from qcapp.web.deps import FormDep, NowDep, StoreDep
from qcapp.web.forms import PageForm, tick
from qcapp.web.layout.labels import name as name_code
from qcapp.web.layout.yard_page import yard_page
from qcapp.web.rules import allow
from qcapp.web.yard.setup import lead_on

router = APIRouter(prefix="/yard/batches", include_in_schema=False)
WRONG = {
    "code": phrase("This cannot be a code. Use letters, digits and hyphens, such as B1."),
    "title": phrase("A name of 1 to 80 signs is needed."),
    "planned": phrase("This is no number of stoves. Write a whole number from 1 to 100000."),
    "opened_on": phrase("This is no day. Write it like 2026-03-31."),
    "serial_prefix": phrase("This is too long. Write at most 20 signs."),
    "checklist_ids": phrase("No checklist is ticked. Tick at least one."),
}


@router.get("", dependencies=[allow("set_up")])
def show_batches(request: Request, store: StoreDep, now: NowDep):
    with store.reading() as connection:
        state = load_state(connection)
    return _batches_page(request, store, PageForm(propose_batch(state, now)))


@router.post("", dependencies=[allow("set_up", "batch_opened")])
def add_batch(request: Request, store: StoreDep, values: FormDep):
    form = PageForm(values)
    code = form.get("code").upper()
    with store.writing() as connection:
        if batches.find_batch(connection, code):
            form.refuse(
                "code",
                phrase(
                    "There is a batch %(code)s already. Take another code, or open that line to change it.",
                    code=code,
                ),
            )
        batch = read_batch(form, code, load_state(connection))
        if not form.wrong:
            batches.save_batches(connection, [batch])
    if form.wrong:
        return _batches_page(request, store, form)
    request.state.about = {"batch": code}
    return lead_on(store, "/yard/batches")


@router.get("/{code}", dependencies=[allow("set_up")])
def show_batch(request: Request, code: str, store: StoreDep):
    with store.reading() as connection:
        batch = batches.get_batch(connection, code)
    return _batch_page(request, store, batch, PageForm(fill_form(batch)))


@router.post("/{code}", dependencies=[allow("set_up", "batch_changed")])
def change_batch(request: Request, code: str, store: StoreDep, values: FormDep):
    form = PageForm(values)
    with store.writing() as connection:
        old = batches.get_batch(connection, code)
        batch = read_batch(form, code, load_state(connection), old)
        if (
            batch
            and batch["size"] != old["size"]
            and batch_figures.list_stove_states(connection, code)
        ):
            text = phrase(
                "Stoves of this batch were inspected by the limits of its size. Leave the size, and open another batch for the others."
            )
            form.refuse("size", text)
        if not form.wrong:
            batches.save_batches(connection, [batch])
    return (
        _batch_page(request, store, old, form)
        if form.wrong
        else RedirectResponse("/yard/batches", status_code=303)
    )


@router.post("/{code}/close", dependencies=[allow("set_up", "batch_closed")])
def close_batch(code: str, store: StoreDep, now: NowDep):
    return _set_closed(store, code, format_timestamp(now))


@router.post("/{code}/reopen", dependencies=[allow("set_up", "batch_reopened")])
def reopen_batch(code: str, store: StoreDep):
    return _set_closed(store, code, None)


def _set_closed(store: Store, code: str, closed_at: str | None) -> RedirectResponse:
    with store.writing() as connection:
        batches.save_batches(
            connection, [{**batches.get_batch(connection, code), "closed_at": closed_at}]
        )
    return RedirectResponse("/yard/batches", status_code=303)


def list_attributes(state: YardState) -> dict[str, list]:
    """{attribute: the values that some check waits for}, such as {"painted": [True]}; what no check asks for is not offered."""
    found: dict[str, list] = {}
    for check in (check for one in state.chosen for check in one["checks"]):
        for key, value in check["when"].items():
            name = key.removeprefix("batch.")
            if key != name and value not in found.setdefault(name, []):
                found[name].append(value)
    return found


def count_inspected(states: Iterable) -> dict[str, dict[str, int]]:
    """{batch: {gate: stoves}}, the finished stoves first: a liner looked at before is not one stove more. states: as list_stove_states gives them."""
    found: dict[str, dict[str, int]] = {}
    for row in sorted(states, key=lambda row: (row.stage != "finished", row.stage)):
        gates = found.setdefault(row.batch, {})
        gates[row.stage] = gates.get(row.stage, 0) + row.stoves
    return found


def propose_batch(state: YardState, now: datetime) -> dict[str, str]:
    """A new batch as the yard usually has it: the next code, the usual crew and checklists, today."""
    taken = {batch["code"] for batch in state.batches}
    code = next(code for number in range(1, len(taken) + 2) if (code := f"B{number}") not in taken)
    crew = {f"crew.{trade}": person for trade, person in state.crew.items()}
    size = {"size": state.sizes[0]} if len(state.sizes) == 1 else {}
    return {
        "code": code,
        "opened_on": now.date().isoformat(),
        **size,
        **crew,
        **tick("checklist", (one["id"] for one in state.chosen)),
    }


def fill_form(batch: Mapping[str, Any]) -> dict[str, str]:
    attributes = {
        f"attribute.{name}": "on" if value is True else str(value)
        for name, value in batch["attributes"].items()
        if value is not False
    }
    plain = {
        key: str(batch[key] or "")
        for key in ("code", "title", "size", "planned", "serial_prefix", "opened_on")
    }
    return {
        **plain,
        **attributes,
        **{f"crew.{trade}": code for trade, code in batch["crew"].items()},
        **tick("checklist", batch["checklist_ids"]),
    }


def read_batch(
    form: PageForm, code: str, state: YardState, old: Mapping[str, Any] | None = None
) -> dict | None:
    """The batch that was typed, or None and what is wrong in the form. old: what it was; attributes not offered here stay."""
    crew = {
        trade: chosen
        for trade in state.trades
        if (chosen := form.get(f"crew.{trade}")) not in ("", "-")
    }
    for trade in list_crew_faults(
        crew, {person["code"]: person["trades"] for person in state.people}
    ):
        text = phrase(
            "%(code)s is no one with the trade %(trade)s. Choose another, or give that trade on the page People.",
            code=crew[trade],
            trade=name_code(trade),
        )
        form.refuse(f"crew.{trade}", text)
    chosen = form.list_ticked("checklist")
    _check_sizes(form, chosen, state)
    planned = form.get("planned")
    batch, wrong = read_shape(
        YardBatch,
        WRONG,
        code=code,
        title=form.get("title") or code,
        size=form.get("size"),
        planned=int(planned) if planned.isdecimal() and len(planned) < 9 else 0,
        attributes={**(old or {}).get("attributes", {}), **_read_attributes(form, state)},
        crew=crew,
        checklist_ids=tuple(chosen),
        serial_prefix=form.get("serial_prefix") or (f"{code}-" if len(code) < 20 else ""),
        opened_on=form.get("opened_on") or None,
        closed_at=(old or {}).get("closed_at"),
    )
    form.refuse_all(wrong)
    return batch


def _check_sizes(form: PageForm, chosen: list[str], state: YardState) -> None:
    known, size = {one["id"]: one["sizes"] for one in state.current}, form.get("size")
    if not any(size in sizes for sizes in known.values()):
        form.refuse("size", phrase("No size is chosen. Choose the one size of this batch."))
        return
    for checklist_id in chosen:
        if size not in known.get(checklist_id, ()):
            form.refuse(
                "checklist_ids",
                phrase(
                    "%(checklist)s has no limits for the size %(size)s. Untick it, or choose another size.",
                    checklist=checklist_id,
                    size=name_size(size),
                ),
            )


def _read_attributes(form: PageForm, state: YardState) -> dict[str, bool | str]:
    read: dict[str, bool | str] = {CHECKED: form.has(f"attribute.{CHECKED}")}
    for name, values in list_attributes(state).items():
        given = form.get(f"attribute.{name}")
        read[name] = bool(given) if set(values) <= {True, False} else given
    return read


def _batches_page(request: Request, store: Store, form: PageForm):
    with store.reading() as connection:
        state = load_state(connection)
        inspected = count_inspected(
            batch_figures.list_stove_states(connection, *(batch["code"] for batch in state.batches))
        )
    return yard_page(
        request,
        store,
        "yard/batches.html",
        form,
        title=phrase("Open and close batches"),
        state=state,
        inspected=inspected,
        attributes=list_attributes(state),
        checked=CHECKED,
    )


def _batch_page(request: Request, store: Store, batch: Mapping[str, Any], form: PageForm):
    state = read_state(store)
    return yard_page(
        request,
        store,
        "yard/batch.html",
        form,
        title=phrase("Batch %(code)s", code=batch["code"]),
        batch=batch,
        state=state,
        attributes=list_attributes(state),
        checked=CHECKED,
    )
