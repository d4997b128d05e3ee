"""Numbers that a person gives to a figure command, in a cell or as an option: one strict grammar.

`int()` and `float()` take more than a person means (1_000, nan, 1e999, digits of other scripts),
and a number without bounds can fill the memory.
"""

import re

# Beyond this nobody makes stoves.
MAX_COUNT = 1_000_000
# As many as a program writes of a double; a longer number would become another one.
MAX_DIGITS = 17
# Squares and their sums of such numbers stay far inside what a double can hold.
MAX_NUMBER, MIN_NUMBER = 1e15, 1e-15
# A bound nearer to certainty has no use and no digits left.
MIN_LEVEL, MAX_LEVEL = 0.5, 0.9999
MAX_QUOTED = 40

_COUNT = re.compile(r"[0-9]{1,15}")
_NUMBER = re.compile(r"-?([0-9]+(?:\.[0-9]+)?)(?:[eE][-+]?[0-9]{1,3})?")


def read_count(text: str, largest: int = MAX_COUNT) -> int:
    """Raises ValueError, which says what the text is not."""
    if not _COUNT.fullmatch(text) or int(text) > largest:
        raise ValueError(f"no whole number from 0 to {largest:,}")
    return int(text)


def read_number(text: str) -> float:
    """Raises ValueError, which says what the text is not."""
    found = _NUMBER.fullmatch(text)
    if not found:
        raise ValueError("no number with a decimal point")
    if len(found[1].replace(".", "").strip("0")) > MAX_DIGITS:
        raise ValueError(f"a number of more than {MAX_DIGITS} digits")
    value = float(text)
    if abs(value) > MAX_NUMBER or (abs(value) < MIN_NUMBER and found[1].strip("0.")):
        raise ValueError(f"no number between {MIN_NUMBER:g} and {MAX_NUMBER:g}")
    return value


def read_level(text: str) -> float:
    """Raises ValueError, which says what the text is not."""
    value = read_number(text)
    if not MIN_LEVEL <= value <= MAX_LEVEL:
        raise ValueError(f"no confidence from {MIN_LEVEL} to {MAX_LEVEL}")
    return value


def read_word(text: str) -> str:
    """Raises ValueError for nothing."""
    if not text:
        raise ValueError("no word")
    return text


def quote(text: str) -> str:
    """In quotes on one line, shortened."""
    return repr(text if len(text) <= MAX_QUOTED else f"{text[:MAX_QUOTED]}...")
