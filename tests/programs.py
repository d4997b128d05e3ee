"""Programs of the system that the tests start; only the standard library,
so that tests/run.py can ask first.
"""

import shutil
from pathlib import Path


def find_chromium():
    """Path of an installed Chromium, or None."""
    return next(
        filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
    )


def find_postgresql():
    """The folder of PostgreSQL's server programs, the newest here, or None.

    Debian keeps them out of the path.
    """
    packaged = Path("/usr/lib/postgresql").glob("*/bin")
    newest_first = sorted(
        packaged,
        key=lambda folder: [int(part) for part in folder.parent.name.split(".") if part.isdigit()],
        reverse=True,
    )
    on_path = [Path(found).resolve().parent for found in [shutil.which("initdb")] if found]
    return next(
        (
            folder
            for folder in [*newest_first, *on_path]
            if (folder / "initdb").exists() and (folder / "postgres").exists()
        ),
        None,
    )
