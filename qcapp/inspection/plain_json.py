"""What nearly every record is: objects, lists, text and whole numbers, not deep. The standard
library writes that in its canonical form (RFC 8785), and ten times as fast as a whole canonical
writer, which is left to whatever else comes.
"""

import json
from collections.abc import Iterable, Mapping
from typing import Any

# An event has about six.
MAX_LEVELS = 100
# Whole numbers that JavaScript holds exactly.
MAX_WHOLE = 2**53 - 1
_LEAVES = (str, bool, type(None))
_ENCODER = json.JSONEncoder(
    ensure_ascii=False, allow_nan=False, check_circular=False, sort_keys=True, separators=(",", ":")
)


def is_plain(value: Any) -> bool:
    """Whether `write_plain` gives its canonical form.

    No names but ASCII ones: RFC 8785 sorts by UTF-16, Python by whole characters.
    """
    inside = [value]
    for _ in range(MAX_LEVELS):
        deeper: list[Any] = []
        for one in inside:
            kind = type(one)
            if kind is dict:
                if not _has_plain_names(one):
                    return False
                deeper += one.values()
            elif kind is list:
                deeper += one
            elif kind not in _LEAVES and not (kind is int and -MAX_WHOLE <= one <= MAX_WHOLE):
                return False
        if not deeper:
            return True
        inside = deeper
    return False


def _has_plain_names(names: Iterable[Any]) -> bool:
    try:
        return "".join(names).isascii()
    except TypeError:
        # One of them is no text.
        return False


def write_plain(value: Any) -> str:
    """Of what is_plain alone; half characters are found by who encodes it."""
    return _ENCODER.encode(value)


def is_deeper(value: Any, levels: int = MAX_LEVELS) -> bool:
    """Looked at level by level, so that depth itself cannot break it."""
    inside = [value]
    for _ in range(levels):
        inside = [child for one in inside for child in _list_children(one)]
        if not inside:
            return False
    return True


def _list_children(value: Any) -> Iterable[Any]:
    if isinstance(value, Mapping):
        return value.values()
    return value if isinstance(value, list | tuple) else ()
