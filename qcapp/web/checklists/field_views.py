"""The fields of a draft as a page shows them, each under its key in the YAML.

Which fields there are comes from the model itself, so that a new one is on the page too.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from qcapp.checklist.draft_fields import list_text_languages, read_fields
from qcapp.checklist.field_types import (
    CODES,
    CONDITIONS,
    FORMULA,
    KEY_POINTS,
    MAY_BE_MISSING,
    NUMBERS,
    POINT_WORDS,
    SIDES,
    TEXTS,
    TICKS,
    WORDS,
)
from qcapp.checklist.field_words import SHORT, name_field
from qcapp.checklist.items import MAX_KEY_POINTS, KeyPoint
from qcapp.i18n.catalogue import name_language
from qcapp.i18n.phrase import phrase
from qcapp.web.checklists.field_choices import Choice, list_choices

LONG = ("how", "caution", "asked_again", "basis")
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
    """Makes the views of one draft's fields. pictures: names that a check may use."""

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
                choices=tuple(list_choices(name, self.source, check, self.pictures)),
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


def _name_point(place: int, word: str) -> str:
    return phrase("Key point %(n)s: %(word)s", n=place, word=name_field(KeyPoint, word))
