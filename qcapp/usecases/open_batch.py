"""Open a batch, change it, close it, open it again."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from pydantic import Field

from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.inspection.serial import CHECKED
from qcapp.scenario.yard_file import YardBatch, list_crew_faults, read_shape
from qcapp.store.engine import Store
from qcapp.store.queries import batch_figures
from qcapp.store.registry import batches
from qcapp.store.registry.batches import get_batch
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.form import OpenForm
from qcapp.usecases.set_up_yard import name_trade
from qcapp.usecases.yard_state import YardState, list_attributes, load_state


class BatchForm(OpenForm):
    """Further fields: crew.TRADE and attribute.NAME."""

    code: str = ""
    title: str = ""
    size: str = ""
    planned: str = ""
    checklist_ids: list[str] = Field(default_factory=list)
    serial_prefix: str = ""
    opened_on: str = ""
    order_no: str = ""
    contract_no: str = ""
    ordered: str = ""


WRONG = {
    "code": phrase("This is not a valid code. Use letters, digits and hyphens, such as B1."),
    "title": phrase("A name is needed. Write 1 to 80 characters."),
    "planned": phrase("This is not a number of stoves. Write a whole number from 1 to 100000."),
    "opened_on": phrase("This is not a day. Write it like 2026-03-31."),
    "serial_prefix": phrase("This is too long. Write at most 20 characters."),
    "checklist_ids": phrase("No checklist is ticked. Tick at least one."),
    "order_no": phrase("This is too long. Write at most 40 characters."),
    "contract_no": phrase("This is too long. Write at most 40 characters."),
    "ordered": phrase("This is not a number of stoves. Write a whole number, or leave it empty."),
}


def propose_batch(state: YardState, now: datetime) -> BatchForm:
    """A new batch as the yard usually has it: the next code, the usual crew and checklists,
    today.
    """
    taken = {batch["code"] for batch in state.batches}
    code = next(code for number in range(1, len(taken) + 2) if (code := f"B{number}") not in taken)
    return BatchForm(
        code=code,
        opened_on=now.date().isoformat(),
        size=state.sizes[0] if len(state.sizes) == 1 else "",
        checklist_ids=[one["id"] for one in state.chosen],
        **{f"crew.{trade}": person for trade, person in state.crew.items()},
    )


def open_batch(store: Store, form: BatchForm) -> str:
    """The code; nothing is kept when the form says what is wrong."""
    code = form.code.upper()
    with store.writing() as connection:
        if batches.find_batch(connection, code):
            text = phrase(
                "There is already a batch %(code)s. Choose another code, or open that line to "
                "change it.",
                code=code,
            )
            form.refuse("code", text)
        batch = read_batch(form, code, load_state(connection))
        if batch and not form.wrong:
            batches.save_batches(connection, [batch])
    return code


def change_batch(store: Store, code: str, form: BatchForm) -> None:
    """Keeps nothing when the form says what is wrong. Raises NotFound."""
    with store.writing() as connection:
        old = get_batch(connection, code)
        batch = read_batch(form, code, load_state(connection), old)
        if (
            batch
            and batch["size"] != old["size"]
            and batch_figures.list_stove_states(connection, code)
        ):
            text = phrase(
                "Stoves of this batch were inspected with the limits of its size. Keep the size, "
                "and open another batch for other stoves."
            )
            form.refuse("size", text)
        if batch and not form.wrong:
            batches.save_batches(connection, [batch])


def list_unfinished(store: Store, code: str) -> list[tuple[str, str, int]]:
    """[(rework, hold or not_inspected, stage, stoves)] of what keeps a batch from being finished.

    Raises NotFound.
    """
    with store.reading() as connection:
        planned = get_batch(connection, code)["planned"]
        states = batch_figures.list_stove_states(connection, code)
    inspected: dict[str, int] = {}
    for row in states:
        inspected[row.stage] = inspected.get(row.stage, 0) + row.stoves
    # A batch of liners alone is finished at its own stage.
    left = planned - inspected.get("finished", max(inspected.values(), default=0))
    absent = [("not_inspected", "finished", left)] if left > 0 else []
    return absent + sorted(
        (row.disposition, row.stage, row.stoves)
        for row in states
        if row.disposition in ("rework", "hold")
    )


def close_batch(store: Store, code: str, now: datetime) -> None:
    """Raises NotFound, as reopen_batch does."""
    _set_closed(store, code, format_timestamp(now))


def reopen_batch(store: Store, code: str) -> None:
    _set_closed(store, code, None)


def _set_closed(store: Store, code: str, closed_at: str | None) -> None:
    with store.writing() as connection:
        batches.save_batches(connection, [{**get_batch(connection, code), "closed_at": closed_at}])


def read_batch(
    form: BatchForm, code: str, state: YardState, old: Mapping[str, Any] | None = None
) -> dict[str, Any] | None:
    """The batch that was typed, or None and what is wrong in the form. old: what it was; attributes
    not offered here stay.
    """
    crew = {
        trade: code
        for trade, code in form.list_group("crew").items()
        if trade in state.trades and code not in ("", "-")
    }
    for trade in list_crew_faults(
        crew, {person["code"]: person["trades"] for person in state.people}
    ):
        text = phrase(
            "%(code)s does not have the trade %(trade)s. Choose somebody else, or add the trade "
            "on the page People.",
            code=crew[trade],
            trade=name_trade(trade),
        )
        form.refuse(f"crew.{trade}", text)
    _check_sizes(form, state)
    batch, wrong = read_shape(
        YardBatch,
        WRONG,
        code=code,
        title=form.title or code,
        size=form.size,
        planned=_read_count(form.planned),
        attributes={**(old or {}).get("attributes", {}), **_read_attributes(form, state)},
        crew=crew,
        checklist_ids=tuple(form.checklist_ids),
        serial_prefix=form.serial_prefix or (f"{code}-" if len(code) < 20 else ""),
        opened_on=form.opened_on or None,
        closed_at=(old or {}).get("closed_at"),
        order_no=form.order_no,
        contract_no=form.contract_no,
        ordered=_read_count(form.ordered) if form.ordered else None,
    )
    form.refuse_all(wrong)
    return batch


def _read_count(typed: str) -> int:
    """0, which no field takes, where it is no whole number."""
    return int(typed) if typed.isdecimal() and len(typed) < 9 else 0


def _check_sizes(form: BatchForm, state: YardState) -> None:
    known, size = {one["id"]: one["sizes"] for one in state.current}, form.size
    if not any(size in sizes for sizes in known.values()):
        form.refuse("size", phrase("No size is chosen. Choose the size of this batch."))
        return
    for checklist_id in form.checklist_ids:
        if size not in known.get(checklist_id, ()):
            form.refuse(
                "checklist_ids",
                phrase(
                    "%(checklist)s has no limits for the size %(size)s. "
                    "Untick it, or choose another size.",
                    checklist=checklist_id,
                    size=name_size(size),
                ),
            )


def _read_attributes(form: BatchForm, state: YardState) -> dict[str, bool | str]:
    typed = form.list_group("attribute")
    read: dict[str, bool | str] = {CHECKED: bool(typed.get(CHECKED))}
    for name, values in list_attributes(state).items():
        given = typed.get(name, "")
        read[name] = bool(given) if set(values) <= {True, False} else given
    return read
