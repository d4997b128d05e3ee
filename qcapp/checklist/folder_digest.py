"""What a folder of checklists holds, as one hash: the same folder is not read again."""

import hashlib
from importlib.resources import files
from pathlib import Path

from qcapp.checklist.pictures import PICTURES


def digest_folder(folder: Path) -> str:
    """SHA-256 (hex) of all that decides what the checklists here are read as: the YAML and SVG
    files with their names, and the program that reads them.
    """
    digest = hashlib.sha256()
    program = {f"/{one.name}": one for one in files(__package__).iterdir() if one.is_file()}
    given = {
        path.relative_to(folder).as_posix(): path
        for pattern in ("*.yaml", "*.svg", f"{PICTURES}/*.svg")
        for path in folder.glob(pattern)
        if path.is_file()
    }
    for name, file in sorted({**program, **given}.items()):
        content = file.read_bytes()
        # Lengths part them, so that nothing can move from one file into another.
        digest.update(f"{name} {len(content)}\n".encode("utf-8", "surrogateescape"))
        digest.update(content)
    return digest.hexdigest()
