"""Loading a part of the program when it is asked for."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import Any


def load(entry: str) -> Any:
    """What module:name stands for, its module loaded."""
    module, _, name = entry.partition(":")
    with _uncollected():
        return getattr(import_module(module), name)


@contextmanager
def _uncollected() -> Iterator[None]:
    """What is loaded stays: to look through it for garbage takes a fifth of the time."""
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()
