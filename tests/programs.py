"""Programs of the system that the tests start; only the standard library,
so that tests/run.py can ask first.
"""

import os
import shutil
import subprocess
from pathlib import Path


def list_measuring():
    """What tells a started program that it is measured (coverage): for one with an environment of
    its own.
    """
    return {name: text for name, text in os.environ.items() if name.startswith("COVERAGE_")}


# The same browser without its windows and tabs: three quarters of the work for the same page.
WINDOWLESS_CHROMIUM = "chromium-headless-shell"


def find_chromium():
    """Path of an installed Chromium, or None; one without windows is preferred."""
    names = (WINDOWLESS_CHROMIUM, "chromium", "chromium-browser", "google-chrome")
    return next(filter(None, map(shutil.which, names)), None)


OLDEST_NODE = 20


def find_node(folders=None):
    """Path of a Node that is new enough, in the folders of PATH or in these; or None."""
    node = shutil.which("node", path=folders)
    try:
        said = subprocess.run([str(node), "--version"], stdout=subprocess.PIPE, check=True).stdout
        major = int(said.decode().strip().lstrip("v").split(".")[0])
    except (OSError, ValueError, subprocess.CalledProcessError):
        return None
    return node if major >= OLDEST_NODE else None


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
