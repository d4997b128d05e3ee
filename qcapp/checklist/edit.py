"""Puts what was typed into the fields of a checklist in the making, named as in draft_fields.py.

A function that changes a source gives another; none is changed in place. What is no number is left
as text, for the loader to say so.
"""

import copy
import re
import unicodedata
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from pydantic import BaseModel

from qcapp.checklist.base_check import BaseCheck
from qcapp.checklist.check_kinds import CHECK_KINDS
from qcapp.checklist.draft_fields import Source
from qcapp.checklist.field_types import (
    CODES,
    CONDITIONS,
    FORMULA,
    GROUPS,
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
from qcapp.checklist.items import MAX_KEY_POINTS
from qcapp.checklist.source import NUMBER

TRUTH = {"yes": True, "true": True, "no": False, "false": False}


def set_fields(source: Mapping[str, Any], typed: Mapping[str, str]) -> Source:
    """A source with the typed fields put in; a field that is not typed stays. A key that leads to
    no field is passed over.
    """
    changed = copy.deepcopy(dict(source))
    for key, text in typed.items():
        _set_field(changed, key.split("."), text)
    for step in changed.get("steps", ()):
        _drop_empty_points(step)
    return changed


def _drop_empty_points(step: Source) -> None:
    """A key point is taken out by emptying it."""
    points = [
        point
        for point in step.pop(KEY_POINTS, ())
        if any(text for word in POINT_WORDS for text in point.get(word, {}).values())
    ]
    if points:
        step[KEY_POINTS] = points


def _set_field(source: Source, path: list[str], text: str) -> None:
    owner, rest = _find_owner(source, path)
    if owner is None or not rest:
        return
    name, *inner = rest
    if name in WORDS and len(inner) == 1:
        _set_words(owner, name, inner[0], text)
    elif name == "labels" and len(inner) == 2 and inner[0].isdigit():
        labels = owner.get("labels", [])
        if 0 < int(inner[0]) <= len(labels):
            _set_words(labels, int(inner[0]) - 1, inner[1], text)
    elif name == KEY_POINTS and len(inner) == 3 and inner[1] in POINT_WORDS:
        _set_point(owner, inner[0], (inner[1], inner[2]), text)
    elif name == "limits" and len(inner) == 2 and inner[1] in SIDES:
        _set_number(owner.setdefault(name, {}).setdefault(inner[0], {}), inner[1], text)
    elif name == "possible" and len(inner) == 1 and inner[0] in SIDES:
        _set_number(owner.setdefault(name, {}), inner[0], text)
    elif name == "rows" and len(inner) == 1:
        _set_row(owner, inner[0], text)
    elif not inner:
        _set_plain(owner, name, text.strip())


def _find_owner(source: Source, path: list[str]) -> tuple[Any, list[str]]:
    """(the mapping that has the field, what is left of the path); None for what is no field of the
    model there.
    """
    if path[0] == "title":
        return source, path
    if path[0] not in GROUPS or len(path) < 3:
        return None, []
    owner, rest = find_item(source.get(path[0], ()), path[1]), path[2:]
    if owner is None:
        return None, []
    model: type[BaseModel] = ITEM_MODELS.get(path[0], BaseCheck)
    kind = next((name for name in owner if name in CHECK_KINDS), "")
    if path[0] == "checks" and rest[0] == kind:
        owner, rest, model = owner[kind], rest[1:], CHECK_KINDS[kind]
    if rest and rest[0] in ("faults", "options") and len(rest) > 2:
        model = ITEM_MODELS[rest[0]]
        owner, rest = find_item(owner.get(rest[0], ()), rest[1]), rest[2:]
    return (owner, rest) if rest and rest[0] in model.model_fields else (None, [])


def find_item(items: Sequence[Source], item_id: str) -> Source | None:
    return next((item for item in items if item["id"] == item_id), None)


def _set_words(owner: Any, name: str | int, language: str, text: str) -> None:
    kept = dict(owner[name]) if isinstance(name, int) or name in owner else {}
    kept[language] = " ".join(text.split())
    # English is never dropped: without it the loader says that it is missing.
    words = {tag: said for tag, said in kept.items() if said or tag == "en"}
    if name in MAY_BE_MISSING and not any(words.values()):
        owner.pop(name, None)
    else:
        owner[name] = words


def _set_point(owner: Source, place: str, field: tuple[str, str], text: str) -> None:
    """place: from 1; the one after the last is a new key point. field: do or why, language."""
    points = owner.setdefault(KEY_POINTS, [])
    if not place.isdigit() or not 0 < int(place) <= MAX_KEY_POINTS:
        return
    while len(points) < int(place):
        points.append({word: {"en": ""} for word in POINT_WORDS})
    _set_words(points[int(place) - 1], *field, text)


def _set_number(owner: Source, name: str, text: str) -> None:
    if text.strip():
        owner[name] = read_number(text)
    else:
        owner.pop(name, None)


def _set_row(owner: Source, size: str, text: str) -> None:
    rows = {**owner.get("rows", {}), size: [read_number(one) for one in re.split(r"[,\s]+", text)]}
    if not text.strip():
        del rows[size]
    owner.pop("rows", None)
    if rows:
        owner["rows"] = rows


def _set_plain(owner: Source, name: str, text: str) -> None:
    if name in TICKS:
        value: Any = text in TRUTH and TRUTH[text]
    elif name in NUMBERS:
        value = read_number(text) if text else None
    elif name == CONDITIONS:
        value = _read_conditions(text)
    elif name == "trade":
        value = make_slug(text)
    elif name in (*CODES, *TEXTS, FORMULA):
        value = " ".join(text.split())
    else:
        return
    is_needed = name in ("basis", "unit", FORMULA)
    if value or is_needed or (name in NUMBERS and value is not None):
        owner[name] = value
    else:
        owner.pop(name, None)
    if name == FORMULA:
        owner["inputs"] = _find_inputs(owner, str(value))
    if name == "n":
        fit_labels(owner)


def _find_inputs(owner: Source, formula: str) -> Source:
    """The names in a formula: as they were, or a check's code with _ in place of -."""
    known = owner.get("inputs", {})
    names = dict.fromkeys(re.findall(r"[A-Za-z_][A-Za-z0-9_]*", formula))
    reserved = ("min", "max", "abs", "sqrt", "pi")
    return {name: known.get(name, name.replace("_", "-")) for name in names if name not in reserved}


def fit_labels(owner: Source) -> None:
    """A name for each reading, as many as there are."""
    number = owner.get("n")
    if isinstance(number, Decimal) and 2 <= number <= 12:
        labels = owner.get("labels", [])
        owner["labels"] = [
            *labels[: int(number)],
            *({"en": f"Reading {place + 1}"} for place in range(len(labels), int(number))),
        ]


def make_slug(words: str) -> str:
    """Small letters and digits joined by hyphens: “Porte à air” is porte-a-air."""
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    return "-".join(re.findall(r"[a-z0-9]+", plain))


def read_number(text: str) -> Decimal | str:
    written = text.strip().replace(",", ".").replace("\u2212", "-")
    return Decimal(written) if NUMBER.fullmatch(written) else text.strip()


def _read_conditions(text: str) -> dict[str, Any]:
    pairs = (part.partition("=") for part in text.split(",") if part.strip())
    named = ((name.strip(), value.strip()) for name, _equals, value in pairs)
    return {
        name if name == "size" else f"batch.{name}": TRUTH.get(value.lower(), value)
        for name, value in named
    }
