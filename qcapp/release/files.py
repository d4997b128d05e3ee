"""Files that are there after a power cut, whole or not at all."""

import os
import sys
from collections.abc import Iterable
from pathlib import Path


def write_durably(target: Path, pieces: Iterable[bytes], is_program: bool) -> None:
    """A new file, on the disk when this returns. is_program: its owner may start it."""
    opened = os.open(
        target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o644
    )
    with os.fdopen(opened, "wb") as stream:
        for piece in pieces:
            stream.write(piece)
        stream.flush()
        os.fsync(stream.fileno())
    if is_program:
        target.chmod(0o755)


def replace_durably(target: Path, content: bytes) -> None:
    """The file's content in one step: a reader finds the old one or the new one."""
    beside = target.with_name(f".{target.name}.new")
    beside.unlink(missing_ok=True)
    write_durably(beside, [content], is_program=False)
    beside.replace(target)
    keep_names(target.parent)


def keep_names(folder: Path) -> None:
    """The names in a folder on the disk too. Windows keeps them by itself."""
    if sys.platform == "win32":
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
