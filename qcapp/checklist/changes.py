"""Every change from one definition of a checklist to another, in words, before it is published.

The two are compared field by field over the model itself, so a field that is added to the model is
told too.
"""

import itertools
from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from qcapp.checklist.base_check import Limits
from qcapp.checklist.change_words import (
    DERIVED,
    Change,
    ChangeList,
    Item,
    fields_of,
    is_text,
    is_texts,
    list_fields,
    name_item,
    say_row,
)
from qcapp.checklist.field_words import ITEMS, name_field, say_limits
from qcapp.checklist.items import KeyPoint
from qcapp.checklist.model import Checklist
from qcapp.checklist.moved_items import find_moved
from qcapp.i18n.catalogue import name_language
from qcapp.i18n.localized_text import join, text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.sizes import name_size

# Derived fields are told by themselves only where none of these has changed.
DERIVED_FROM = ("uncertainty", "decision", "guard_factor", "repeatability")


class _Comparison:
    def __init__(self, changes: ChangeList) -> None:
        self.changes = changes
        self.is_tool_changed = False

    def compare_models(
        self, item: Item, old: BaseModel | None, new: BaseModel | None, prefix: Sequence[str] = ()
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

    def compare_field(
        self,
        item: Item,
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
        elif is_text(old) or is_text(new):
            self.compare_texts(item, name, field, old or {}, new or {})
        elif is_texts(old) or is_texts(new):
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
            self.changes.tell_values(item, name, field, old, new)

    def compare_items(self, item: Item, group: str, old: Sequence[Any], new: Sequence[Any]) -> None:
        had, has = {one.id: one for one in old}, {one.id: one for one in new}
        for one in old:
            if one.id not in has:
                self.changes.tell_gone(item, group, one)
        for one in new:
            here = item.enter(group, one)
            if one.id not in had:
                self.changes.tell_added(item, group, one)
                continue
            before = had[one.id]
            self.is_tool_changed = any(
                getattr(before, name, None) != getattr(one, name, None) for name in DERIVED_FROM
            )
            prefix = (text_of(one.title),) if group in ("faults", "options") else ()
            self.compare_models(here, before, one, prefix)
        self._tell_moved(item, group, old, new)

    def _tell_moved(self, item: Item, group: str, old: Sequence[Any], new: Sequence[Any]) -> None:
        has = {one.id: one for one in new}
        for one_id, follows in find_moved([one.id for one in old], [one.id for one in new]):
            text = (
                phrase("Moves: it comes after “%(other)s” now", other=name_item(has[follows]))
                if follows
                else phrase("Moves to the front")
            )
            if group in ("faults", "options"):
                text = phrase("%(name)s: %(text)s", name=name_item(has[one_id]), text=text)
            self.changes.tell(item.enter(group, has[one_id]), text)

    def compare_texts(
        self,
        item: Item,
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
                self.changes.tell_said(item, said, quoted, f"{field}.{language}")

    def compare_key_points(
        self, item: Item, old: Sequence[KeyPoint], new: Sequence[KeyPoint]
    ) -> None:
        for place, (was, now) in enumerate(itertools.zip_longest(old, new), start=1):
            if was != now:
                here = Item(item.of, f"{item.key}.key_points.{place}")
                self.compare_models(here, was, now, (phrase("Key point %(n)s", n=place),))

    def compare_by_size(
        self,
        item: Item,
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
                self.changes.tell_said(item, sized, said, f"limits.{size}")
            else:
                said = tuple(say_row(one) if one else None for one in (was, now))
                self.changes.tell_said(item, sized, said, f"rows.{size}")

    def compare_sizes(self, item: Item, old: Sequence[str], new: Sequence[str]) -> None:
        for size in old:
            if size not in new:
                text = phrase("The size “%(size)s” is deleted", size=name_size(size))
                self.changes.tell(item, text, is_loss=True, key="sizes")
        for size in new:
            if size not in old:
                self.changes.tell(
                    item, phrase("New size: “%(size)s”", size=name_size(size)), key="sizes"
                )
        if [size for size in old if size in new] != [size for size in new if size in old]:
            said = join(", ", (name_size(size) for size in new))
            self.changes.tell(
                item, phrase("Order of the sizes: %(sizes)s", sizes=said), key="sizes"
            )


def list_changes(before: Checklist, after: Checklist, words: Mapping[str, Phrase]) -> list[Change]:
    """Empty where the two say the same. words: of severities, verdicts and trades, by code."""
    changes = ChangeList(before, after, words)
    _Comparison(changes).compare_models(Item(phrase("The whole checklist"), ""), before, after)
    return changes.found


def _at(texts: Sequence[Mapping[str, str]] | None, place: int) -> Mapping[str, str]:
    return texts[place] if texts and place < len(texts) else {}


def _quote(words: str | None) -> str | None:
    return None if words is None else phrase("“%(words)s”", words=words)
