"""A filled sheet of an agreement study: fields by look and check, read back into answers."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.check_kinds import Check, ChoiceCheck, TickCheck
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.i18n.units import name_unit
from qcapp.inspection.number import parse_number
from qcapp.inspection.terms import VERDICTS
from qcapp.web.layout.template_filters import as_localized, as_unit

MARKS = ("pass", "fail", "not_applicable")


@dataclass(frozen=True)
class Field:
    """choices: (value, words) of a choice, empty where a number is typed; value: what stands in
    it.
    """

    name: str
    label: str
    choices: tuple[tuple[str, str], ...]
    value: str


@dataclass(frozen=True)
class SheetRow:
    """One look, counted from 1 in the order it is to be made. is_done: already recorded."""

    place: int
    stove: str
    repeat: int
    is_done: bool
    fields: tuple[Field, ...]


def build_sheet(
    order: Sequence[tuple[str, int]],
    checks: Sequence[Check],
    done: Collection[tuple[str, int]],
    typed: Mapping[str, str],
) -> list[SheetRow]:
    """typed: what was entered before, so that an error loses nothing."""
    return [
        SheetRow(
            place,
            stove,
            repeat,
            (stove, repeat) in done,
            tuple(field for check in checks for field in _list_fields(place, check, typed)),
        )
        for place, (stove, repeat) in enumerate(order, 1)
    ]


def _list_fields(place: int, check: Check, typed: Mapping[str, str]) -> list[Field]:
    ask = as_localized(check.ask)
    choices: tuple[tuple[str, str], ...]
    if isinstance(check, TickCheck):
        marks = MARKS if check.may_not_apply else MARKS[:2]
        choices = tuple((mark, VERDICTS[mark]) for mark in marks)
    elif isinstance(check, ChoiceCheck):
        choices = tuple((option.id, as_localized(option.title)) for option in check.options)
    else:
        labels = [f"{ask}, {as_localized(label)}" for label in check.reading_labels] or [ask]
        names = [f"{place}.{check.id}.{at}" for at in range(len(labels))]
        return [
            Field(name, f"{label} ({as_unit(check.unit)})", (), typed.get(name, ""))
            for name, label in zip(names, labels, strict=True)
        ]
    name = f"{place}.{check.id}"
    return [Field(name, ask, choices, typed.get(name, ""))]


def read_sheet(
    form: Mapping[str, str], order: Sequence[tuple[str, int]], checks: Sequence[Check]
) -> list[tuple[str, int, dict[str, Any]]]:
    """(stove, repeat, answers) of each look that has any answer. Raises BadInput with row and
    check.
    """
    looks = []
    for place, (stove, repeat) in enumerate(order, 1):
        answers = {
            check.id: answer
            for check in checks
            if (answer := _read_answer(form, place, stove, check))
        }
        if answers:
            looks.append((stove, repeat, answers))
    if not looks:
        raise BadInput(phrase("the sheet is empty"), "sheet", phrase("enter at least one look"))
    return looks


def _read_answer(
    form: Mapping[str, str], place: int, stove: str, check: Check
) -> dict[str, Any] | None:
    """None where nothing was entered. Raises BadInput."""
    where = phrase(
        "line %(place)s, stove %(stove)s, %(ask)s",
        place=place,
        stove=stove,
        ask=as_localized(check.ask),
    )
    if isinstance(check, NumberCheck):
        count = check.reading_count
        texts = [form.get(f"{place}.{check.id}.{at}", "").strip() for at in range(count)]
        return _read_numbers(texts, check, where) if any(texts) else None
    given = form.get(f"{place}.{check.id}", "")
    return _read_choice(given, check, where) if given else None


def _read_choice(given: str, check: TickCheck | ChoiceCheck, where: str) -> dict[str, str]:
    is_tick = isinstance(check, TickCheck)
    known = MARKS if isinstance(check, TickCheck) else [option.id for option in check.options]
    if given not in known:
        raise BadInput(
            phrase("%(given)s is not one of the choices", given=repr(given)),
            where,
            phrase("choose from the list"),
        )
    return {"mark": given} if is_tick else {"option": given}


def _read_numbers(
    texts: Sequence[str], check: NumberCheck, where: str
) -> dict[str, list[str | None]]:
    values = [parse_number(text) for text in texts]
    bad = next((at for at, value in enumerate(values) if not _is_possible(value, check)), None)
    if bad is None:
        return {"values": values}
    what = (
        phrase("%(text)s is not a possible reading", text=repr(texts[bad]))
        if texts[bad]
        else phrase("a reading is missing")
    )
    limits = phrase(
        "%(lower)s to %(upper)s %(unit)s",
        lower=check.possible.lower,
        upper=check.possible.upper,
        unit=name_unit(check.unit),
    )
    raise BadInput(what, where, phrase("write a number such as 12.5, %(limits)s", limits=limits))


def _is_possible(value: str | None, check: NumberCheck) -> bool:
    return value is not None and check.possible.lower <= float(value) <= check.possible.upper
