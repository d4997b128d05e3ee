"""How a change of a checklist is told: what is new, what is gone, what it is now and was before."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from qcapp.checklist.base_check import BaseCheck
from qcapp.checklist.field_words import UNTOLD, Reader, name_field, say_limits
from qcapp.checklist.items import KeyPoint
from qcapp.checklist.model import Checklist
from qcapp.i18n.localized_text import join, text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.sizes import name_size

# Worked out from other fields by the loader.
DERIVED = ("accept_lower", "accept_upper", "twice_lower", "twice_upper")
ADDED = {
    "tools": phrase("New tool"),
    "parts": phrase("New part"),
    "steps": phrase("New step"),
    "checks": phrase("New check"),
    "faults": phrase("New fault"),
    "options": phrase("New answer"),
}
GONE = {
    "tools": phrase("This tool is deleted"),
    "parts": phrase("This part is deleted"),
    "steps": phrase("This step is deleted"),
    "checks": phrase("This check is retired: nobody is asked it any more"),
    "faults": phrase("Fault deleted"),
    "options": phrase("Answer deleted"),
}


@dataclass(frozen=True)
class Change:
    """of: what is changed, by its name; key: its place in the YAML; text: the sentence. is_loss:
    something is taken away that was there.
    """

    of: str
    key: str
    text: str
    is_loss: bool = False


@dataclass(frozen=True)
class Item:
    """Something of a checklist on its way through the comparison. of, key: as in Change."""

    of: str
    key: str
    unit: str = ""

    def enter(self, group: str, one: Any) -> "Item":
        """One of its items; a fault or an answer is told as its check's."""
        if group in ("faults", "options"):
            return self
        return Item(name_item(one), f"{group}.{one.id}", getattr(one, "unit", ""))


class ChangeList:
    """Takes down each change in words. found: those told so far."""

    def __init__(self, before: Checklist, after: Checklist, words: Mapping[str, Phrase]) -> None:
        self.before, self.after = Reader(before, words), Reader(after, words)
        self.found: list[Change] = []

    def tell(self, item: Item, text: str, *, is_loss: bool = False, key: str = "") -> None:
        place = ".".join(part for part in (item.key, key) if part)
        self.found.append(Change(item.of, place, text, is_loss))

    def tell_added(self, item: Item, group: str, one: Any) -> None:
        if group in ("faults", "options"):
            self.tell(item, phrase("%(what)s: %(name)s", what=ADDED[group], name=name_item(one)))
            details = self.describe(one, self.after, ("title",))
        else:
            item = item.enter(group, one)
            self.tell(item, ADDED[group])
            details = self.describe(one, self.after, ("title", "ask"))
        for name, said in details:
            self.tell(item, phrase("%(name)s: %(value)s", name=name, value=said))

    def tell_gone(self, item: Item, group: str, one: Any) -> None:
        here = item.enter(group, one)
        text = GONE[group]
        if group in ("faults", "options"):
            text = phrase("%(what)s: %(name)s", what=text, name=name_item(one))
        self.tell(here, text, is_loss=True)
        if caution := getattr(one, "caution", None):
            text = phrase("Its caution goes with it: “%(caution)s”", caution=text_of(caution))
            self.tell(here, text, is_loss=True, key="caution")

    def describe(
        self, one: BaseModel, reader: Reader, known: Sequence[str]
    ) -> Iterator[tuple[str, str]]:
        """(name of the field, what stands in it) of all that is there. known: told already."""
        unit = getattr(one, "unit", "")
        for field in list_fields(one):
            value = getattr(one, field)
            name = name_field(type(one), field)
            if field in ("id", "resolution", "unit", *known) or value in (None, (), {}):
                continue
            if field in ("limits", "rows"):
                for size, kept in value.items():
                    sized = phrase("%(name)s, size %(size)s", name=name, size=name_size(size))
                    yield sized, say_limits(kept, unit) if field == "limits" else say_row(kept)
            else:
                yield name, _say_whole(value) or reader.say(field, value, _unit_for(field, unit))

    def tell_values(self, item: Item, name: str, field: str, old: Any, new: Any) -> None:
        unit = _unit_for(field, item.unit)
        was = self.before.say(field, old, unit) if old not in (None, (), {}) else None
        now = self.after.say(field, new, unit) if new not in (None, (), {}) else None
        self.tell_said(item, name, (was, now), field)

    def tell_said(self, item: Item, name: str, said: Sequence[str | None], key: str) -> None:
        was, now = said
        if was is None:
            text = phrase("%(name)s, new: %(now)s", name=name, now=now)
        elif now is None:
            text = phrase("%(name)s: deleted; it was %(was)s", name=name, was=was)
        else:
            text = phrase("%(name)s: now %(now)s; before %(was)s", name=name, now=now, was=was)
        self.tell(item, text, is_loss=now is None, key=key)


def list_fields(*models: BaseModel) -> list[str]:
    """Names of all their fields, in the models' order, without those that are never told."""
    untold = {
        field
        for model in models
        for kind, fields in UNTOLD.items()
        for field in fields
        if isinstance(model, kind)
    }
    fields = dict.fromkeys(field for model in models for field in fields_of(model))
    return [field for field in fields if field not in untold]


def fields_of(model: BaseModel) -> list[str]:
    return list(type(model).model_fields)


def name_item(one: Any) -> str:
    """What an item is called: a check by its question, any other by its title."""
    if isinstance(one, KeyPoint):
        return phrase("%(do)s (%(why)s)", do=text_of(one.do), why=text_of(one.why))
    return text_of(one.ask if isinstance(one, BaseCheck) else one.title)


def is_text(value: Any) -> bool:
    """Whether it is a text by language."""
    return (
        isinstance(value, Mapping)
        and bool(value)
        and "en" in value
        and all(isinstance(text, str) for text in value.values())
    )


def is_texts(value: Any) -> bool:
    return isinstance(value, tuple) and bool(value) and all(is_text(one) for one in value)


def _say_whole(value: Any) -> str:
    """Of items and texts; empty for a plain value."""
    if is_text(value):
        return text_of(value)
    if is_texts(value):
        return join(", ", (text_of(text) for text in value))
    if isinstance(value, BaseModel):
        return say_limits(value, "")
    if isinstance(value, tuple) and isinstance(value[0], BaseModel):
        return join(", ", (name_item(item) for item in value))
    return ""


def say_row(row: Iterable[int]) -> str:
    return ", ".join(map(str, row))


def _unit_for(field: str, unit: str) -> str:
    """Seconds, minutes and factors are numbers in no unit of the check."""
    in_unit = ("resolution", "uncertainty", "repeatability")
    return unit if field in (*in_unit, "lower", "nominal", "upper", *DERIVED) else ""
