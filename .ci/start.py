"""The folder's program. Without arguments, as after a double click, it starts the yard."""

import multiprocessing
import os
import sys

from qcapp.cli.main import run


def forget_own_libraries() -> None:
    """The browser that is started must load the system's libraries, not those of this folder."""
    before = os.environ.pop("LD_LIBRARY_PATH_ORIG", None)
    os.environ.pop("LD_LIBRARY_PATH", None)
    if before:
        os.environ["LD_LIBRARY_PATH"] = before


if __name__ == "__main__":
    multiprocessing.freeze_support()
    forget_own_libraries()
    if len(sys.argv) == 1:
        sys.argv.append("start")
    run()
