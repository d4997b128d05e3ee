"""Text from outside, made fit for paper: nothing hidden in it, nothing without a glyph."""

import re
import unicodedata
from collections.abc import Callable, Iterable
from typing import Any

# They turn the reading direction of what follows, so that a text can show other than it says.
DIRECTION_MARKS = re.compile("[\u202a-\u202e\u2066-\u2069]")
CODE_START = "[U+"
ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")


def map_texts(value: Any, change: Callable[[str], str]) -> Any:
    """The same objects and lists with every text in them changed; keys stay."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {key: map_texts(inner, change) for key, inner in value.items()}
    return [map_texts(inner, change) for inner in value] if isinstance(value, list) else value


def drop_controls(text: str) -> str:
    """One line without control characters; marks that turn the direction are shown as their
    number.
    """
    coded = DIRECTION_MARKS.sub(lambda found: code_of(found[0]), text)
    return "".join(
        " " if unicodedata.category(character) in ("Cc", "Cs", "Zl", "Zp") else character
        for character in coded
    )


def code_of(character: str) -> str:
    return f"{CODE_START}{ord(character):04X}]"


def code_characters(text: str, characters: Iterable[str]) -> str:
    """Each of the named characters (as the typesetter writes them) as its Unicode number."""
    for character in characters:
        plain = ESCAPED.sub(lambda found: chr(int(found[1], 16)), character)
        text = text.replace(plain, code_beyond_ascii(plain))
    return text


def code_beyond_ascii(text: str) -> str:
    return "".join(
        character if " " <= character <= "~" else code_of(character) for character in text
    )
