"""Work in pieces: a log may be larger than the memory, a statement takes only so many values."""

import itertools
from collections.abc import Iterable, Iterator
from typing import TypeVar

Item = TypeVar("Item")

# SQLite's limit on bound values of one statement was 999 in old builds.
CHUNK_SIZE = 500


def chunked(items: Iterable[Item], size: int = CHUNK_SIZE) -> Iterator[list[Item]]:
    """The items in order, so many at a time; the last piece may be smaller."""
    remaining = iter(items)
    while chunk := list(itertools.islice(remaining, size)):
        yield chunk
