"""Every change from one definition of a checklist to another, in words, before it is published.

The two are compared field by field over the model itself, so a field that is added to the model is
told too.
"""

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from qcapp.checklist.base_check import BaseCheck, Limits
from qcapp.checklist.field_words import (
    ITEMS,
    UNTOLD,
    Reader,
    name_field,
    say_limits,
)
from qcapp.checklist.items import KeyPoint
from qcapp.checklist.model import Checklist
from qcapp.i18n.catalogue import name_language
from qcapp.i18n.localized_text import join, text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.sizes import name_size

# Worked out from the others; told by themselves only where none of these has changed.
DERIVED = ("accept_lower", "accept_upper", "twice_lower", "twice_upper")
DERIVED_FROM = ("uncertainty", "decision", "guard_factor", "repeatability")
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
class _Item:
    """Something of a checklist on its way through the comparison. of, key: as in Change."""

    of: str
    key: str
    unit: str = ""


class _Comparison:
    def __init__(self, before: Checklist, after: Checklist, words: Mapping[str, Phrase]) -> None:
        self.before, self.after = Reader(before, words), Reader(after, words)
        self.found: list[Change] = []

    def tell(self, item: _Item, text: str, *, is_loss: bool = False, key: str = "") -> None:
        place = ".".join(part for part in (item.key, key) if part)
        self.found.append(Change(item.of, place, text, is_loss))

    def compare_models(
        self, item: _Item, old: BaseModel | None, new: BaseModel | None, prefix: Sequence[str] = ()
    ) -> None:
        """prefix: what stands before each field's name, such as the size of its limits."""
        fields = list_fields(*(one for one in (old, new) if one is not None))
        skipped = DERIVED if isinstance(new, Limits) and self._is_explained(old, new) else ()
        for field in fields:
            if field not in skipped:
                owner = next(type(one) for one in (new, old) if one and field in fields_of(one))
                values = (getattr(old, field, None), getattr(new, field, None))
                self.compare_field(item, owner, field, values, prefix)

    def _is_explained(self, old: BaseModel | None, new: Limits) -> bool:
        sides = any(getattr(old, side, None) != getattr(new, side) for side in ("lower", "upper"))
        return sides or self.is_tool_changed

    is_tool_changed = False

    def compare_field(
        self,
        item: _Item,
        owner: type[BaseModel],
        field: str,
        values: tuple[Any, Any],
        prefix: Sequence[str],
    ) -> None:
        old, new = values
        if old == new:
            return
        name = join(", ", (*prefix, name_field(owner, field)))
        if field in ITEMS:
            self.compare_items(item, field, old or (), new or ())
        elif _is_text(old) or _is_text(new):
            self.compare_texts(item, name, field, old or {}, new or {})
        elif _is_texts(old) or _is_texts(new):
            for place in range(max(len(old or ()), len(new or ()))):
                self.compare_texts(
                    item,
                    phrase("%(name)s %(place)s", name=name, place=str(place + 1)),
                    field,
                    _at(old, place),
                    _at(new, place),
                )
        elif field == "key_points":
            self.compare_key_points(item, old or (), new or ())
        elif field in ("limits", "rows"):
            self.compare_by_size(item, name, field, old or {}, new or {})
        elif field == "sizes":
            self.compare_sizes(item, old or (), new or ())
        elif isinstance(old, BaseModel) or isinstance(new, BaseModel):
            self.compare_models(item, old, new)
        else:
            self.tell_values(item, name, field, old, new)

    def compare_items(
        self, item: _Item, group: str, old: Sequence[Any], new: Sequence[Any]
    ) -> None:
        had, has = {one.id: one for one in old}, {one.id: one for one in new}
        for one in old:
            if one.id not in has:
                self.tell_gone(item, group, one)
        for one in new:
            here = self._enter(item, group, one)
            if one.id not in had:
                self.tell_added(item, group, one)
                continue
            before = had[one.id]
            self.is_tool_changed = any(
                getattr(before, name, None) != getattr(one, name, None) for name in DERIVED_FROM
            )
            prefix = (text_of(one.title),) if group in ("faults", "options") else ()
            self.compare_models(here, before, one, prefix)
        for one_id, follows in find_moved([one.id for one in old], [one.id for one in new]):
            text = (
                phrase("Moves: it comes after “%(other)s” now", other=_name(has[follows]))
                if follows
                else phrase("Moves to the front")
            )
            if group in ("faults", "options"):
                text = phrase("%(name)s: %(text)s", name=_name(has[one_id]), text=text)
            self.tell(self._enter(item, group, has[one_id]), text)

    def _enter(self, item: _Item, group: str, one: Any) -> _Item:
        if group in ("faults", "options"):
            return item
        return _Item(_name(one), f"{group}.{one.id}", getattr(one, "unit", ""))

    def tell_added(self, item: _Item, group: str, one: Any) -> None:
        if group in ("faults", "options"):
            self.tell(item, phrase("%(what)s: %(name)s", what=ADDED[group], name=_name(one)))
            details = self.describe(one, self.after, ("title",))
        else:
            item = self._enter(item, group, one)
            self.tell(item, ADDED[group])
            details = self.describe(one, self.after, ("title", "ask"))
        for name, said in details:
            self.tell(item, phrase("%(name)s: %(value)s", name=name, value=said))

    def tell_gone(self, item: _Item, group: str, one: Any) -> None:
        here = self._enter(item, group, one)
        text = GONE[group]
        if group in ("faults", "options"):
            text = phrase("%(what)s: %(name)s", what=text, name=_name(one))
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
                    yield sized, say_limits(kept, unit) if field == "limits" else _say_row(kept)
            else:
                yield name, _say_whole(value) or reader.say(field, value, _unit_for(field, unit))

    def compare_texts(
        self,
        item: _Item,
        name: str,
        field: str,
        old: Mapping[str, str],
        new: Mapping[str, str],
    ) -> None:
        for language in dict.fromkeys((*old, *new)):
            if old.get(language) != new.get(language):
                said = phrase(
                    "%(name)s (%(language)s)", name=name, language=name_language(language)
                )
                quoted = (_quote(old.get(language)), _quote(new.get(language)))
                self.tell_said(item, said, quoted, f"{field}.{language}")

    def compare_key_points(
        self, item: _Item, old: Sequence[KeyPoint], new: Sequence[KeyPoint]
    ) -> None:
        for place, (was, now) in enumerate(itertools.zip_longest(old, new), start=1):
            if was != now:
                here = _Item(item.of, f"{item.key}.key_points.{place}")
                self.compare_models(here, was, now, (phrase("Key point %(n)s", n=place),))

    def compare_by_size(
        self,
        item: _Item,
        name: str,
        field: str,
        old: Mapping[str, Any],
        new: Mapping[str, Any],
    ) -> None:
        for size in dict.fromkeys((*old, *new)):
            was, now = old.get(size), new.get(size)
            if was == now:
                continue
            sized = phrase("%(name)s, size %(size)s", name=name, size=name_size(size))
            if isinstance(was, Limits) and isinstance(now, Limits):
                size_words = phrase("Size %(size)s", size=name_size(size))
                self.compare_models(item, was, now, (size_words,))
            elif field == "limits":
                said = tuple(say_limits(one, item.unit) if one else None for one in (was, now))
                self.tell_said(item, sized, said, f"limits.{size}")
            else:
                said = tuple(_say_row(one) if one else None for one in (was, now))
                self.tell_said(item, sized, said, f"rows.{size}")

    def compare_sizes(self, item: _Item, old: Sequence[str], new: Sequence[str]) -> None:
        for size in old:
            if size not in new:
                text = phrase("The size “%(size)s” is deleted", size=name_size(size))
                self.tell(item, text, is_loss=True, key="sizes")
        for size in new:
            if size not in old:
                self.tell(item, phrase("New size: “%(size)s”", size=name_size(size)), key="sizes")
        if [size for size in old if size in new] != [size for size in new if size in old]:
            said = join(", ", (name_size(size) for size in new))
            self.tell(item, phrase("Order of the sizes: %(sizes)s", sizes=said), key="sizes")

    def tell_values(self, item: _Item, name: str, field: str, old: Any, new: Any) -> None:
        unit = _unit_for(field, item.unit)
        was = self.before.say(field, old, unit) if old not in (None, (), {}) else None
        now = self.after.say(field, new, unit) if new not in (None, (), {}) else None
        self.tell_said(item, name, (was, now), field)

    def tell_said(self, item: _Item, name: str, said: Sequence[str | None], key: str) -> None:
        was, now = said
        if was is None:
            text = phrase("%(name)s, new: %(now)s", name=name, now=now)
        elif now is None:
            text = phrase("%(name)s: deleted; it was %(was)s", name=name, was=was)
        else:
            text = phrase("%(name)s: now %(now)s; before %(was)s", name=name, now=now, was=was)
        self.tell(item, text, is_loss=now is None, key=key)


def list_changes(before: Checklist, after: Checklist, words: Mapping[str, Phrase]) -> list[Change]:
    """Empty where the two say the same. words: of severities, verdicts and trades, by code."""
    comparison = _Comparison(before, after, words)
    comparison.compare_models(_Item(phrase("The whole checklist"), ""), before, after)
    return comparison.found


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


def find_moved(old: Sequence[str], new: Sequence[str]) -> list[tuple[str, str]]:
    """(id, the id before it now or "") of as few as can be, of those that are in both."""
    places = {one: place for place, one in enumerate(old)}
    kept = [one for one in new if one in places]
    stay = _find_longest_rising([places[one] for one in kept])
    still = {kept[index] for index in stay}
    return [
        (one, new[place - 1] if (place := new.index(one)) else "")
        for one in kept
        if one not in still
    ]


def _find_longest_rising(numbers: Sequence[int]) -> set[int]:
    """Indices of a longest rising subsequence."""
    best: list[list[int]] = []
    for index, number in enumerate(numbers):
        before = [
            chain for chain, last in zip(best, range(index), strict=False) if numbers[last] < number
        ]
        best.append([*_longest(before), index])
    return set(_longest(best))


def _longest(chains: Sequence[list[int]]) -> list[int]:
    return max(chains, key=len, default=[])


def _name(one: Any) -> str:
    if isinstance(one, KeyPoint):
        return phrase("%(do)s (%(why)s)", do=text_of(one.do), why=text_of(one.why))
    return text_of(one.ask if isinstance(one, BaseCheck) else one.title)


def _is_text(value: Any) -> bool:
    return (
        isinstance(value, Mapping)
        and bool(value)
        and "en" in value
        and all(isinstance(text, str) for text in value.values())
    )


def _is_texts(value: Any) -> bool:
    return isinstance(value, tuple) and bool(value) and all(_is_text(one) for one in value)


def _say_whole(value: Any) -> str:
    """Of items and texts; empty for a plain value."""
    if _is_text(value):
        return text_of(value)
    if _is_texts(value):
        return join(", ", (text_of(text) for text in value))
    if isinstance(value, BaseModel):
        return say_limits(value, "")
    if isinstance(value, tuple) and isinstance(value[0], BaseModel):
        return join(", ", (_name(item) for item in value))
    return ""


def _at(texts: Sequence[Mapping[str, str]] | None, place: int) -> Mapping[str, str]:
    return texts[place] if texts and place < len(texts) else {}


def _quote(words: str | None) -> str | None:
    return None if words is None else phrase("“%(words)s”", words=words)


def _say_row(row: Iterable[int]) -> str:
    return ", ".join(map(str, row))


def _unit_for(field: str, unit: str) -> str:
    """Seconds, minutes and factors are numbers in no unit of the check."""
    in_unit = ("resolution", "uncertainty", "repeatability")
    return unit if field in (*in_unit, "lower", "nominal", "upper", *DERIVED) else ""
