"""A value put in the place of any other, in whatever is read from outside."""

import copy
from collections.abc import Iterator
from typing import Any

Place = tuple[str | int, ...]


def walk_places(value: Any, place: Place = ()) -> Iterator[Place]:
    """Keys and numbers that lead to each part of a JSON value; () is the whole."""
    yield place
    inside = value.items() if isinstance(value, dict) else ()
    for key, child in enumerate(value) if isinstance(value, list) else inside:
        yield from walk_places(child, (*place, key))


def replace_at(value: Any, place: Place, new: Any) -> Any:
    """A copy with another part at the place."""
    if not place:
        return new
    changed = copy.copy(value)
    changed[place[0]] = replace_at(value[place[0]], place[1:], new)
    return changed
