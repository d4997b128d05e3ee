"""The fields of a draft as a page shows them: each under its key in the YAML, with the error beside
it.

Which fields there are comes from the model itself, so that a new one is on the page too.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from pydantic import BaseModel

from qcapp.checklist.base_check import DecisionRule, PhotoFigure, Severity, Statistic
from qcapp.checklist.check_kinds import CHECK_KINDS, NUMBER_KINDS
from qcapp.checklist.draft_fields import list_text_languages, read_fields
from qcapp.checklist.edit_items import kind_of
from qcapp.checklist.field_types import (
    CODES,
    CONDITIONS,
    FORMULA,
    ITEM_MODELS,
    KEY_POINTS,
    MAY_BE_MISSING,
    NUMBERS,
    POINT_WORDS,
    SIDES,
    TEXTS,
    TICKS,
    WORDS,
)
from qcapp.checklist.field_words import CODES as CODE_WORDS
from qcapp.checklist.field_words import NO, SHORT, YES, name_field
from qcapp.checklist.items import MAX_KEY_POINTS, KeyPoint
from qcapp.checklist.photo import KINDS as PHOTO_KINDS
from qcapp.checklist.source import ChecklistError
from qcapp.i18n.catalogue import name_language
from qcapp.i18n.localized_text import join, text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import RULES, SEVERITIES, TRADES, VERDICTS
from qcapp.web.checklists.plain_errors import say_error

# Changed in another way than by a field: as items of their own, or made from another field.
NOT_FIELDS = ("id", "kind", "faults", "options", "after", "should_be_caught_by", "inputs")
# Worked out by the loader.
DERIVED = ("accept_lower", "accept_upper", "twice_lower", "twice_upper")
LONG = ("how", "caution", "asked_again", "basis")
IN_BLOCK = ("ask", "how", "caution", "asked_again")
HINTS = {
    "ask": phrase(
        "Better words for the same check. For anything else, retire it and add a new one."
    ),
    "caution": phrase("What can hurt whoever does the check, and how to avoid it."),
    "when": phrase("Such as: painted = yes. Empty: always asked."),
    "uncertainty": phrase("Expanded (k = 2), from the tool's certificate. 0: limits stay as are."),
    "guard_factor": phrase("1 if empty."),
    "expression": phrase("Such as: door_opening_width * 2. Names: checks' codes with _ for -."),
    "basis": phrase("Your drawing, a standard, an agreement."),
    "lasts_seconds": phrase("Gives the check a clock. Empty: none."),
    "photo": phrase("Only of a part that lies free and flat in the printed frame."),
    "figure": phrase("With a photo only."),
    "trade": phrase("Such as metalwork, clay, firing, assembly, paint."),
}
Choice = tuple[str, str]


@dataclass(frozen=True)
class FieldView:
    """One field. choices: (value, words) of those to choose from, empty for a typed one."""

    key: str
    label: str
    value: str
    choices: tuple[Choice, ...] = ()
    hint: str = ""
    is_long: bool = False
    is_number: bool = False


@dataclass(frozen=True)
class TextView:
    """One text in several languages: English first, the others folded away. key: of the text."""

    key: str
    label: str
    fields: tuple[FieldView, ...]
    hint: str = ""


@dataclass(frozen=True)
class SizeView:
    """Limits of one size, or how many in each row. key: of the size."""

    size: str
    key: str
    fields: tuple[FieldView, ...]


class FieldsOf:
    """Makes the views of one draft's fields. pictures: names that a check may use; trades: those in
    use here.
    """

    def __init__(
        self,
        source: Mapping[str, Any],
        typed: Mapping[str, str],
        pictures: Collection[str],
    ) -> None:
        self.source, self.pictures = source, pictures
        self.values = {**read_fields(source), **typed}

    def list_texts(
        self, key: str, owner: type[BaseModel], item: Mapping[str, Any]
    ) -> list[TextView]:
        """The texts of an item, also those that it has not yet."""
        return [
            self._text(f"{key}.{name}", name_field(owner, name), item.get(name, {}), name)
            for name in owner.model_fields
            if name in WORDS and (name in item or name in MAY_BE_MISSING)
        ]

    def _text(self, key: str, label: str, words: Mapping[str, str], name: str) -> TextView:
        languages = list_text_languages(words)
        fields = (self._field(f"{key}.{one}", name_language(one), name) for one in languages)
        return TextView(key, label, tuple(fields), HINTS.get(name, ""))

    def title(self) -> TextView:
        label = phrase("Name of the checklist")
        return self._text("title", label, self.source["title"], "title")

    def list_labels(self, key: str, labels: Sequence[Mapping[str, str]]) -> list[TextView]:
        return [
            self._text(f"{key}.{place}", phrase("Reading %(n)s", n=place), label, "title")
            for place, label in enumerate(labels, start=1)
        ]

    def list_key_points(self, key: str, item: Mapping[str, Any]) -> list[TextView]:
        """What to do and why, of each key point and of one more that can be filled in."""
        kept = item.get(KEY_POINTS, ())
        return [
            self._text(f"{key}.{KEY_POINTS}.{place}.{word}", _name_point(place, word), words, word)
            for place in range(1, min(len(kept) + 1, MAX_KEY_POINTS) + 1)
            for word in POINT_WORDS
            for words in (kept[place - 1].get(word, {}) if place <= len(kept) else {},)
        ]

    def list_plain(
        self, key: str, owner: type[BaseModel], check: Mapping[str, Any], names: Collection[str]
    ) -> list[FieldView]:
        """Fields that hold one value, of these names."""
        return [
            self._field(
                f"{key}.{name}",
                name_field(owner, name),
                name,
                choices=tuple(self._list_choices(name, check)),
                hint=HINTS.get(name, ""),
            )
            for name in owner.model_fields
            if name in names and name in (*CODES, *TEXTS, *NUMBERS, *TICKS, CONDITIONS, FORMULA)
        ]

    def _field(
        self,
        key: str,
        label: str,
        name: str,
        *,
        choices: tuple[Choice, ...] = (),
        hint: str = "",
    ) -> FieldView:
        value = self.values.get(key, "")
        return FieldView(key, label, value, choices, hint, name in LONG, name in NUMBERS)

    def list_sizes(self, key: str, block: Mapping[str, Any]) -> list[SizeView]:
        return [
            SizeView(
                size,
                f"{key}.limits.{size}",
                tuple(
                    FieldView(
                        f"{key}.limits.{size}.{side}",
                        SHORT[side],
                        self.values.get(f"{key}.limits.{size}.{side}", ""),
                        is_number=True,
                    )
                    for side in SIDES
                ),
            )
            for size in self.source["sizes"]
            if "limits" in block
        ]

    def list_rows(self, key: str, kind: str) -> list[FieldView]:
        return [
            self._field(f"{key}.rows.{size}", size, "rows")
            for size in self.source["sizes"]
            if kind == "count"
        ]

    def list_possible(self, key: str, block: Mapping[str, Any]) -> list[FieldView]:
        labels = {"lower": phrase("a typing error if below"), "upper": phrase("or above")}
        return [
            FieldView(
                f"{key}.possible.{side}",
                label,
                self.values.get(f"{key}.possible.{side}", ""),
                is_number=True,
            )
            for side, label in labels.items()
            if "limits" in block
        ]

    def _list_choices(self, name: str, check: Mapping[str, Any]) -> Iterator[Choice]:
        if name in ("tool", "picture", "side", "fault", "photo", "figure"):
            yield "", phrase("none")
        if name in ("part", "step", "tool"):
            for item in self.source.get(f"{name}s", ()):
                yield item["id"], text_of(item["title"])
        elif name == "fault":
            for fault in check["faults"]:
                yield fault["id"], text_of(fault["title"])
        elif name == "picture":
            yield from ((one, one.replace("-", " ")) for one in sorted(self.pictures))
        elif name in TICKS:
            yield from (("no", NO), ("yes", YES))
        else:
            yield from self._list_codes(name)

    def _list_codes(self, name: str) -> Iterator[Choice]:
        codes: dict[str, Any] = {
            "severity": Severity,
            "decision": DecisionRule,
            "by": Statistic,
            "side": ("below", "above"),
            "verdict": ("pass", "fail"),
            "photo": PHOTO_KINDS,
            "figure": PhotoFigure,
        }
        words = {**CODE_WORDS, **SEVERITIES, **RULES, **VERDICTS, **TRADES}
        found = codes.get(name, ())
        for code in found if isinstance(found, tuple) else get_args(found):
            yield code, words[code]


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


def _name_point(place: int, word: str) -> str:
    return phrase("Key point %(n)s: %(word)s", n=place, word=name_field(KeyPoint, word))


def place_errors(
    errors: Iterable[ChecklistError], places: Collection[str], source: Mapping[str, Any]
) -> dict[str, str]:
    """{place: what is wrong and what to do}; an error goes to its own key or the nearest around it,
    else to the top ("").
    """
    found: dict[str, list[str]] = {}
    for error in errors:
        found.setdefault(find_place(error, places), []).append(say_error(error, source))
    return {place: join(" ", texts) for place, texts in found.items()}


def find_place(error: ChecklistError, places: Collection[str]) -> str:
    """Its own key or the nearest around it; empty where none is on the page."""
    place = error.key
    while place and place not in places:
        place = place.rpartition(".")[0]
    return place
