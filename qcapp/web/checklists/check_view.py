"""One check of a draft as its page shows it; faults, answers, steps, parts and tools likewise."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.check_kinds import CHECK_KINDS, NUMBER_KINDS
from qcapp.checklist.edit_items import kind_of
from qcapp.checklist.field_types import ITEM_MODELS, KEY_POINTS, WORDS
from qcapp.i18n.localized_text import text_of
from qcapp.web.checklists.field_views import FieldsOf, FieldView, SizeView, TextView

# Changed in another way than by a field: as items of their own, or made from another field.
NOT_FIELDS = ("id", "kind", "faults", "options", "after", "should_be_caught_by", "inputs")


@dataclass(frozen=True)
class CheckPage:
    """All of one check, in the order in which a person reads it. block: key of the numbers."""

    id: str
    key: str
    kind: str
    texts: list[TextView]
    sizes: list[SizeView]
    possible: list[FieldView]
    rows: list[FieldView]
    numbers: list[FieldView]
    labels: list[TextView]
    belongs: list[FieldView]
    faults: list["ItemView"]
    options: list["ItemView"]
    unit: str


@dataclass(frozen=True)
class ItemView:
    """A fault, answer, step, part or tool. is_used: something refers to it, so it has to stay."""

    id: str
    key: str
    title: str
    texts: list[TextView]
    fields: list[FieldView]
    is_used: bool = False
    key_points: tuple[TextView, ...] = ()


def view_check(fields: FieldsOf, check: Mapping[str, Any]) -> CheckPage:
    kind = kind_of(check)
    key, block, owner = f"checks.{check['id']}", check[kind] or {}, CHECK_KINDS[kind]
    inner = f"{key}.{kind}"
    names = [name for name in owner.model_fields if name not in (*NOT_FIELDS, *WORDS, "labels")]
    in_block = [name for name in names if kind in NUMBER_KINDS and is_of_kind(name)]
    return CheckPage(
        id=check["id"],
        key=key,
        kind=kind,
        texts=fields.list_texts(key, owner, check),
        sizes=fields.list_sizes(inner, block),
        possible=fields.list_possible(inner, block),
        rows=fields.list_rows(inner, kind),
        numbers=fields.list_plain(inner, owner, check, in_block),
        labels=fields.list_labels(f"{inner}.labels", block.get("labels", ())),
        belongs=fields.list_plain(key, owner, check, set(names) - set(in_block)),
        faults=list_items(fields, check, key, "faults", check["faults"]),
        options=list_items(fields, check, inner, "options", block.get("options", ())),
        unit=str(block.get("unit", "")),
    )


def is_of_kind(name: str) -> bool:
    """Whether a field stands in the block that is named after the check's kind."""
    return name not in CHECK_KINDS["tick"].model_fields


def list_items(
    fields: FieldsOf,
    check: Mapping[str, Any],
    key: str,
    group: str,
    items: Iterable[Mapping[str, Any]],
    used: Collection[str] = (),
) -> list[ItemView]:
    owner = ITEM_MODELS[group]
    names = [name for name in owner.model_fields if name != "id"]
    return [
        ItemView(
            item["id"],
            (place := f"{key}.{group}.{item['id']}" if key else f"{group}.{item['id']}"),
            text_of(item["title"]),
            fields.list_texts(place, owner, item),
            fields.list_plain(place, owner, check, names),
            item["id"] in used,
            tuple(fields.list_key_points(place, item) if KEY_POINTS in names else ()),
        )
        for item in items
    ]
