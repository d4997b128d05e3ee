"""What may be changed of a checklist field by field: its words, limits, sources, and which checks
it asks.

A field is named by its key in the YAML, as errors name it: checks.door-fit.ask.en. Everything works
on the shape of write.as_source; what else a checklist can say is changed in the YAML itself.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from qcapp.checklist.source import NUMBER
from qcapp.i18n.catalogue import list_languages

SIDES = ("lower", "nominal", "upper")
Item = Mapping[str, Any]
# Of a number check: those that are numbers themselves, and those that hold numbers.
NUMBERS = ("uncertainty",)
# A caution may be said in more languages, but its English stays as it was shipped.
KEPT = "caution"


def merge(shipped: Mapping[str, Any] | None, current: Mapping[str, Any]) -> dict[str, Any]:
    """The current source with the shipped tools, parts, steps and checks that it leaves out, so
    that a page can offer them again.
    """
    if shipped is None:
        return dict(current)
    merged = {
        **current,
        **{
            group: _merge_items(shipped.get(group, ()), current.get(group, ()))
            for group in ("tools", "parts", "steps", "checks")
            if group in shipped or group in current
        },
    }
    order = {part["id"]: place for place, part in enumerate(merged["parts"])}
    return {**merged, "checks": sorted(merged["checks"], key=lambda check: order[check["part"]])}


def _merge_items(shipped: Sequence[Item], current: Sequence[Item]) -> list[Item]:
    here = {item["id"]: item for item in current}
    known = {item["id"] for item in shipped}
    return [
        *(here.get(item["id"], item) for item in shipped),
        *(item for item in current if item["id"] not in known),
    ]


def read_fields(source: Mapping[str, Any]) -> dict[str, str]:
    """{key: text} of everything that may be changed."""
    groups = (
        (f"{group}.{item['id']}", item)
        for group in ("parts", "steps", "checks")
        for item in source[group]
    )
    found = dict(_read_words("title", source["title"]))
    for key, item in groups:
        found |= dict(_read(key, item))
    return found


def _read(key: str, node: Any) -> Iterator[tuple[str, str]]:
    if _is_words(node):
        yield from _read_words(key, node)
    elif isinstance(node, list | tuple):
        for name, item in _named(node):
            yield from _read(f"{key}.{name}", item)
    elif isinstance(node, Mapping):
        for name, child in node.items():
            yield from _read_child(f"{key}.{name}", name, child)


def _read_child(key: str, name: str, child: Any) -> Iterator[tuple[str, str]]:
    if name == "basis" or name in NUMBERS:
        yield key, _text(child)
    elif name == "possible":
        yield from ((f"{key}.{side}", _text(child[side])) for side in ("lower", "upper"))
    elif name == "limits":
        yield from (
            (f"{key}.{size}.{side}", _text(limits.get(side)))
            for size, limits in child.items()
            for side in SIDES
        )
    elif name == "rows":
        yield from ((f"{key}.{size}", ", ".join(map(str, row))) for size, row in child.items())
    elif name not in ("when", "inputs"):
        yield from _read(key, child)


def _read_words(key: str, words: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    yield from (
        (f"{key}.{language}", words.get(language, "")) for language in list_text_languages(words)
    )


def list_text_languages(words: Mapping[str, str]) -> list[str]:
    """Languages in which a text can be given: those of the program, then what others it has."""
    return list(dict.fromkeys((*list_languages(), *words)))


def _is_words(node: Any) -> bool:
    return (
        isinstance(node, Mapping)
        and "en" in node
        and all(isinstance(text, str) for text in node.values())
    )


def _named(items: Iterable[Any]) -> Iterator[tuple[str, Any]]:
    """Items of a list by the name that errors give them: the id, or the place counted from 1."""
    for place, item in enumerate(items, start=1):
        yield (str(item["id"]) if isinstance(item, Mapping) and "id" in item else str(place)), item


def _text(value: Any) -> str:
    return (
        ""
        if value is None
        else value
        if isinstance(value, str)
        else format(Decimal(str(value)), "f")
    )


def apply_fields(
    source: Mapping[str, Any], typed: Mapping[str, str], uses: Collection[str], revision: int
) -> dict[str, Any]:
    """A source with the typed fields put in; a field that is not there stays. uses: ids of the
    checks to ask.

    Parts, steps and tools that no check needs any more go with the checks. What is no number is
    left as text, for the loader to say so.
    """
    checks = [
        _apply(f"checks.{check['id']}", _without_unused(check, uses), typed)
        for check in source["checks"]
        if check["id"] in uses
    ]
    kept = {
        group: {check.get(word) for check in checks}
        for group, word in (("tools", "tool"), ("parts", "part"), ("steps", "step"))
        if group in source
    }
    groups = {
        group: [
            _apply(f"{group}.{item['id']}", item, typed)
            for item in source[group]
            if item["id"] in used
        ]
        for group, used in kept.items()
    }
    return {
        **source,
        "revision": revision,
        "title": _apply_words("title", source["title"], typed),
        **groups,
        "checks": checks,
    }


def _without_unused(check: Mapping[str, Any], uses: Collection[str]) -> dict[str, Any]:
    """What comes before a check is no more than what is asked."""
    left = {name: value for name, value in check.items() if name != "after"}
    after = [name for name in check.get("after", ()) if name in uses]
    return {**left, "after": after} if after else left


def _apply(key: str, node: Any, typed: Mapping[str, str]) -> Any:
    if _is_words(node):
        return _apply_words(key, node, typed)
    if isinstance(node, list | tuple):
        return [_apply(f"{key}.{name}", item, typed) for name, item in _named(node)]
    if not isinstance(node, Mapping):
        return node
    return {name: _apply_child(f"{key}.{name}", name, child, typed) for name, child in node.items()}


def _apply_child(key: str, name: str, child: Any, typed: Mapping[str, str]) -> Any:
    if name == "basis":
        return typed.get(key, child).strip()
    if name in NUMBERS:
        return _number(typed[key]) if typed.get(key, "").strip() else child
    if name == "possible":
        return _apply_sides(key, child, typed)
    if name == "limits":
        return {
            size: _apply_sides(f"{key}.{size}", limits, typed) for size, limits in child.items()
        }
    if name == "rows":
        return {
            size: [_number(cell) for cell in typed[f"{key}.{size}"].replace(",", " ").split()]
            if f"{key}.{size}" in typed
            else row
            for size, row in child.items()
        }
    if name == KEPT:
        return _apply_words(key, child, typed, keeps_english=True)
    return child if name in ("when", "inputs") else _apply(key, child, typed)


def _apply_sides(key: str, limits: Mapping[str, Any], typed: Mapping[str, str]) -> dict[str, Any]:
    given = {
        side: typed[f"{key}.{side}"].strip() if f"{key}.{side}" in typed else limits.get(side)
        for side in SIDES
    }
    return {
        side: _number(value) if isinstance(value, str) else value
        for side, value in given.items()
        if value not in (None, "")
    }


def _apply_words(
    key: str, words: Mapping[str, str], typed: Mapping[str, str], *, keeps_english: bool = False
) -> dict[str, str]:
    given = {
        language: typed.get(f"{key}.{language}", words.get(language, "")).strip()
        for language in list_text_languages(words)
    }
    if keeps_english:
        given["en"] = words["en"]
    # English is never dropped: without it the loader says that it is missing.
    return {language: text for language, text in given.items() if text or language == "en"}


def _number(text: str) -> Decimal | str:
    written = text.strip().replace(",", ".").replace("\u2212", "-")
    return Decimal(written) if NUMBER.fullmatch(written) else text.strip()
