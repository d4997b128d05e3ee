"""The fields of a checklist in the making, each as the text that a page shows.

A field is named by its key in the YAML, as errors name it: checks.door-fit.ask.en.
"""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from qcapp.checklist.check_kinds import CHECK_KINDS
from qcapp.checklist.field_types import CONDITIONS, GROUPS, KEY_POINTS, SIDES, WORDS
from qcapp.checklist.source import Node, Problems, parse_source
from qcapp.errors import BadInput
from qcapp.i18n.catalogue import list_languages
from qcapp.i18n.phrase import phrase

# A checklist in the shape that stands in its YAML.
Source = dict[str, Any]


def read_source_text(text: str) -> Source:
    """The source in a YAML text that write_yaml made. Raises BadInput for any other."""
    problems = Problems("checklist")
    root = parse_source(text, problems)
    if root is None or not isinstance(root.value, dict):
        raise BadInput(phrase("not a checklist"), "checklist", phrase("begin again"))
    plain: Source = _as_plain(root)
    return plain


def _as_plain(node: Node) -> Any:
    if isinstance(node.value, dict):
        return {name: _as_plain(child) for name, child in node.value.items()}
    if isinstance(node.value, list):
        return [_as_plain(child) for child in node.value]
    return node.value


def read_fields(source: Mapping[str, Any]) -> dict[str, str]:
    """{key: text} of every field that stands in the source."""
    found = dict(_read_words("title", source["title"]))
    for group in GROUPS:
        for item in source.get(group, ()):
            found |= dict(_read_item(f"{group}.{item['id']}", item))
    return found


def _read_item(key: str, item: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for name, value in item.items():
        place = f"{key}.{name}"
        if name in CHECK_KINDS:
            yield from _read_item(place, value)
        elif name in ("faults", "options"):
            for one in value:
                yield from _read_item(f"{place}.{one['id']}", one)
        elif name != "id":
            yield from _read_field(place, name, value)


def _read_field(key: str, name: str, value: Any) -> Iterator[tuple[str, str]]:
    if name in WORDS:
        yield from _read_words(key, value)
    elif name in ("labels", KEY_POINTS):
        yield from _read_listed(key, name, value)
    elif name == "limits":
        for size, limits in value.items():
            yield from ((f"{key}.{size}.{side}", _text(limits.get(side))) for side in SIDES)
    elif name == "possible":
        yield from ((f"{key}.{side}", _text(value.get(side))) for side in ("lower", "upper"))
    elif name == "rows":
        yield from ((f"{key}.{size}", ", ".join(map(_text, row))) for size, row in value.items())
    elif name == CONDITIONS:
        yield key, write_conditions(value)
    elif name not in ("inputs", "after", "should_be_caught_by"):
        yield key, _text(value)


def _read_listed(
    key: str, name: str, items: Sequence[Mapping[str, Any]]
) -> Iterator[tuple[str, str]]:
    for place, one in enumerate(items, start=1):
        texts = {"": one} if name == "labels" else {f".{word}": one[word] for word in one}
        for word, text in texts.items():
            yield from _read_words(f"{key}.{place}{word}", text)


def _read_words(key: str, words: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    yield from (
        (f"{key}.{language}", words.get(language, "")) for language in list_text_languages(words)
    )


def list_text_languages(words: Mapping[str, str]) -> list[str]:
    """Languages in which a text can be given: those of the program, then what others it has."""
    return list(dict.fromkeys((*list_languages(), *words)))


def _text(value: Any) -> str:
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return format(Decimal(str(value)), "f")


def write_conditions(when: Mapping[str, Any]) -> str:
    """painted = yes, size = medium."""
    return ", ".join(
        f"{key.removeprefix('batch.')} = {_text(value)}" for key, value in when.items()
    )
