"""The folder's program. Without arguments, as after a double click, it starts the yard."""

import multiprocessing
import os
import sys
from pathlib import Path

from qcapp.release.launch import hand_over
from qcapp.release.place import find_place_of


def forget_own_libraries() -> None:
    """The browser that is started must load the system's libraries, not those of this folder."""
    before = os.environ.pop("LD_LIBRARY_PATH_ORIG", None)
    os.environ.pop("LD_LIBRARY_PATH", None)
    if before:
        os.environ["LD_LIBRARY_PATH"] = before


def put_records_back(copy: str) -> None:
    from qcapp.cli.start import put_records_back as put_back

    put_back(copy)


def start_chosen() -> None:
    """The version that an update chose, when this is the folder that was unzipped by hand."""
    program = Path(sys.executable).resolve()
    place = find_place_of(program)
    if place.root == program.parent:
        code = hand_over(place, sys.argv[1:], put_records_back)
        if code is not None:
            sys.exit(code)


if __name__ == "__main__":
    multiprocessing.freeze_support()
    forget_own_libraries()
    if len(sys.argv) == 1:
        sys.argv.append("start")
    start_chosen()
    from qcapp.cli.main import run

    run()
