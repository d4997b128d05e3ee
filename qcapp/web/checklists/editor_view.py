"""A checklist as the page of its fields shows it: check by check, each field under its key, each
error beside its field.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from qcapp.checklist.edit import SIDES, list_text_languages
from qcapp.checklist.load import ChecklistError
from qcapp.checklist.model import CHECK_KINDS, NUMBER_KINDS, Check
from qcapp.i18n.localized_text import Figure, join, text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.usecases.publish_checklist import Editor
from qcapp.web.layout.labels import name as name_code
from qcapp.web.layout.template_filters import as_translated

TRUTH = {True: phrase("true"), False: phrase("false")}


@dataclass(frozen=True)
class CheckTexts:
    """One text in several languages. fields: (language, field); kept: an English text that is shown
    and stays; is_long: of a sentence or two.
    """

    label: str
    fields: tuple[tuple[str, str], ...]
    kept: str = ""
    is_long: bool = False


@dataclass(frozen=True)
class SizeView:
    """Limits of one size: the key of the size, its three fields by side, what the shipped checklist
    says.
    """

    size: str
    key: str
    shipped: str


@dataclass(frozen=True)
class CheckView:
    """block: key of the numbers, empty where there are none; rows: fields of rows by size;
    asked_again: why an earlier stage's answer does not do, empty where none asks it.
    caught_by: (earlier stage, its checks) that should have caught a fault found here.
    """

    id: str
    key: str
    title: str
    severity: str
    kind: str
    part: str
    condition: str
    asked_again: str
    caught_by: tuple[tuple[str, Sequence[str]], ...]
    words: tuple[CheckTexts, ...]
    more_words: tuple[CheckTexts, ...]
    block: str
    unit: str
    sizes: tuple[SizeView, ...]
    rows: tuple[tuple[str, str], ...]
    shipped_basis: str


def view_checks(editor: Editor) -> list[CheckView]:
    source = editor.source
    parts = {part["id"]: text_of(part["title"]) for part in source["parts"]}
    return [_view_check(editor, check, parts) for check in source["checks"]]


def view_names(editor: Editor) -> list[CheckTexts]:
    """The texts that belong to no check: the title, parts, steps."""
    source = editor.source
    parts = [
        _words(f"parts.{part['id']}.title", phrase("Part %(id)s", id=part["id"]), part["title"])
        for part in source["parts"]
    ]
    steps = [
        _words(f"steps.{step['id']}.title", phrase("Step %(id)s", id=step["id"]), step["title"])
        for step in source["steps"]
    ]
    return [_words("title", phrase("Name of the checklist"), source["title"]), *parts, *steps]


def _view_check(editor: Editor, check: Mapping[str, Any], parts: Mapping[str, str]) -> CheckView:
    key = f"checks.{check['id']}"
    kind = next(name for name in check if name in CHECK_KINDS)
    block = check[kind] if kind in NUMBER_KINDS else {}
    shipped = editor.shipped.check_by_id.get(check["id"]) if editor.shipped else None
    how = replace(_words(f"{key}.how", phrase("How it is done"), check["how"]), is_long=True)
    own = [_words(f"{key}.ask", phrase("Question"), check["ask"]), how]
    if "asked_again" in check:
        again = _words(f"{key}.asked_again", phrase("Why it is asked again"), check["asked_again"])
        own.append(replace(again, is_long=True))
    if "caution" in check:
        caution = _words(f"{key}.caution", phrase("Caution"), check["caution"])
        own.append(
            replace(
                caution,
                fields=tuple(field for field in caution.fields if field[0] != "en"),
                kept=check["caution"]["en"],
                is_long=True,
            )
        )
    return CheckView(
        id=check["id"],
        key=key,
        title=text_of(check["ask"]),
        severity=check["severity"],
        kind=kind,
        part=parts[check["part"]],
        condition=join(
            ", ", (_say_condition(name, value) for name, value in check.get("when", {}).items())
        ),
        asked_again=text_of(check["asked_again"]) if "asked_again" in check else "",
        caught_by=tuple((check.get("should_be_caught_by") or {}).items()),
        words=tuple(own),
        more_words=tuple(_list_more_words(key, kind, check)),
        block=f"{key}.{kind}" if block else "",
        unit=block.get("unit", ""),
        sizes=tuple(
            SizeView(size, f"{key}.{kind}.limits.{size}", _say_limits(shipped, size))
            for size in block.get("limits", {})
        ),
        rows=tuple((size, f"{key}.{kind}.rows.{size}") for size in block.get("rows") or {}),
        shipped_basis=shipped.basis if shipped else "",
    )


def _list_more_words(key: str, kind: str, check: Mapping[str, Any]) -> Iterable[CheckTexts]:
    for fault in check["faults"]:
        yield _words(
            f"{key}.faults.{fault['id']}.title",
            phrase("Fault %(id)s", id=fault["id"]),
            fault["title"],
        )
    for option in check[kind].get("options", ()):
        yield _words(
            f"{key}.{kind}.options.{option['id']}.title",
            phrase("Answer %(id)s", id=option["id"]),
            option["title"],
        )
    for place, label in enumerate(check[kind].get("labels", ()), start=1):
        yield _words(f"{key}.{kind}.labels.{place}", phrase("Reading %(n)s", n=place), label)


def _words(key: str, label: str, texts: Mapping[str, str]) -> CheckTexts:
    return CheckTexts(
        label, tuple((language, f"{key}.{language}") for language in list_text_languages(texts))
    )


def _say_limits(shipped: Check | None, size: str) -> str:
    limits = getattr(shipped, "limits", {}).get(size)
    if limits is None:
        return ""
    return join(
        ", ",
        (
            _say_limit(side, getattr(limits, side))
            for side in SIDES
            if getattr(limits, side) is not None
        ),
    )


def _say_limit(side: str, value: float) -> Phrase:
    limit = Figure(f"{value:g}")
    if side == "lower":
        return phrase("at least %(limit)s", limit=limit)
    return (
        phrase("target %(limit)s", limit=limit)
        if side == "nominal"
        else phrase("at most %(limit)s", limit=limit)
    )


def _say_condition(name: str, value: Any) -> Phrase:
    """What a batch must be for the check to be asked: painted true."""
    words = TRUTH[value] if isinstance(value, bool) else str(value).lower()
    # Words: a condition of a batch and its value, as in "painted true".
    return phrase("%(name)s %(value)s", name=name_code(name.removeprefix("batch.")), value=words)


def list_keys(fields: Collection[str], checks: Iterable[CheckView]) -> set[str]:
    """Every place on the page where an error can stand."""
    return {
        *fields,
        *(check.key for check in checks),
        *(size.key for check in checks for size in check.sizes),
    }


def place_errors(errors: Iterable[ChecklistError], places: Collection[str]) -> dict[str, str]:
    """{place: what is wrong and what to do}; an error goes to its own key or the nearest around it,
    else to the top ("").
    """
    found: dict[str, list[str]] = {}
    for error in errors:
        place = error.key
        while place and place not in places:
            place = place.rpartition(".")[0]
        what = as_translated(error.what)
        what = f"{what[:1].upper()}{what[1:]}"
        found.setdefault(place, []).append(
            phrase("%(what)s: %(todo)s.", what=what, todo=error.todo)
            if place
            else phrase("%(key)s: %(what)s: %(todo)s.", key=error.key, what=what, todo=error.todo)
        )
    return {place: join(" ", texts) for place, texts in found.items()}
