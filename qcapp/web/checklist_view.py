"""A checklist as the page of its fields shows it: check by check, each field under its key, each error beside its field."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from qcapp.checklist.edit import LANGUAGES, SIDES
from qcapp.checklist.load import ChecklistError
from qcapp.checklist.model import NUMBER_KINDS
from qcapp.web.checklist_form import Bench

SAID = {"lower": "at least", "nominal": "aimed at", "upper": "at most"}


@dataclass(frozen=True)
class Words:
    """One text in several languages. fields: (language, field); kept: an English text that is shown and stays; is_long: of a sentence or two."""

    label: str
    fields: tuple[tuple[str, str], ...]
    kept: str = ""
    is_long: bool = False


@dataclass(frozen=True)
class SizeView:
    """Limits of one size: the key of the size, its three fields by side, what the shipped checklist says."""

    size: str
    key: str
    shipped: str


@dataclass(frozen=True)
class CheckView:
    """block: key of the numbers, empty where there are none; rows: fields of rows by size."""

    id: str
    key: str
    title: str
    severity: str
    kind: str
    part: str
    condition: str
    words: tuple[Words, ...]
    more_words: tuple[Words, ...]
    block: str
    unit: str
    sizes: tuple[SizeView, ...]
    rows: tuple[tuple[str, str], ...]
    shipped_basis: str


def view_checks(bench: Bench) -> list[CheckView]:
    source = bench.source
    parts = {part["id"]: part["title"]["en"] for part in source["parts"]}
    return [_view_check(bench, check, parts) for check in source["checks"]]


def view_names(bench: Bench) -> list[Words]:
    """The texts that belong to no check: the title, parts, steps."""
    source = bench.source
    items = [(f"{group}.{item['id']}.title", f"{label} {item['id']}", item["title"])
             for group, label in (("parts", "Part"), ("steps", "Step")) for item in source[group]]
    return [_words("title", "Name of the checklist", source["title"]), *(_words(*item) for item in items)]


def _view_check(bench: Bench, check: Mapping[str, Any], parts: Mapping[str, str]) -> CheckView:
    key = f"checks.{check['id']}"
    kind = next(name for name in check if name in (*NUMBER_KINDS, "tick", "choice"))
    block = check[kind] if kind in NUMBER_KINDS else {}
    shipped = bench.shipped.check_by_id.get(check["id"]) if bench.shipped else None
    own = [_words(f"{key}.ask", "Question", check["ask"]), replace(_words(f"{key}.how", "How it is done", check["how"]), is_long=True)]
    if "caution" in check:
        caution = _words(f"{key}.caution", "Caution", check["caution"])
        own.append(Words("Caution", tuple(field for field in caution.fields if field[0] != "en"), check["caution"]["en"], is_long=True))
    return CheckView(
        id=check["id"], key=key, title=check["ask"]["en"], severity=check["severity"], kind=kind, part=parts[check["part"]],
        condition=", ".join(f"{name.removeprefix('batch.')} {str(value).lower()}" for name, value in check.get("when", {}).items()),
        words=tuple(own), more_words=tuple(_list_more_words(key, kind, check)), block=f"{key}.{kind}" if block else "", unit=block.get("unit", ""),
        sizes=tuple(SizeView(size, f"{key}.{kind}.limits.{size}", _say_limits(shipped, size)) for size in block.get("limits", {})),
        rows=tuple((size, f"{key}.{kind}.rows.{size}") for size in block.get("rows") or {}), shipped_basis=shipped.basis if shipped else "",
    )


def _list_more_words(key: str, kind: str, check: Mapping[str, Any]) -> Iterable[Words]:
    for fault in check["faults"]:
        yield _words(f"{key}.faults.{fault['id']}.title", f"Fault {fault['id']}", fault["title"])
    for option in check[kind].get("options", ()):
        yield _words(f"{key}.{kind}.options.{option['id']}.title", f"Answer {option['id']}", option["title"])
    for place, label in enumerate(check[kind].get("labels", ()), start=1):
        yield _words(f"{key}.{kind}.labels.{place}", f"Reading {place}", label)


def _words(key: str, label: str, texts: Mapping[str, str]) -> Words:
    return Words(label, tuple((language, f"{key}.{language}") for language in dict.fromkeys((*LANGUAGES, *texts))))


def _say_limits(shipped, size: str) -> str:
    limits = getattr(shipped, "limits", {}).get(size)
    if limits is None:
        return ""
    given = [f"{SAID[side]} {getattr(limits, side):g}" for side in SIDES if getattr(limits, side) is not None]
    return ", ".join(given)


def list_keys(fields: Collection[str], checks: Iterable[CheckView]) -> set[str]:
    """Every place on the page where an error can stand."""
    return {*fields, *(check.key for check in checks), *(size.key for check in checks for size in check.sizes)}


def place_errors(errors: Iterable[ChecklistError], places: Collection[str]) -> dict[str, str]:
    """{place: what is wrong and what to do}; an error goes to its own key or the nearest around it, else to the top ("")."""
    found: dict[str, list[str]] = {}
    for error in errors:
        place = error.key
        while place and place not in places:
            place = place.rpartition(".")[0]
        text = f"{error.what[:1].upper()}{error.what[1:]}: {error.todo}."
        found.setdefault(place, []).append(text if place else f"{error.key}: {text}")
    return {place: " ".join(texts) for place, texts in found.items()}
