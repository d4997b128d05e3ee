"""A virtual environment made once and remade when it is half-made or out of date.

Standard library only, and written so that any Python 3.6 or later can read it far
enough to say that it is too old.
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

OLDEST = (3, 11)
TAIL_LINES = 15


class CannotPrepare(Exception):
    """The environment cannot be made; the text says why and what to do."""


def check_python(version=sys.version_info, find_module=importlib.util.find_spec):
    """Raise CannotPrepare where this Python is too old or cannot make environments."""
    if tuple(version[:2]) < OLDEST:
        raise CannotPrepare(
            "this is Python {}.{} ({}), and Python {}.{} or later is needed: install it and start "
            "this file with it, for example  python3.11 {}".format(
                *version[:2], sys.executable, *OLDEST, sys.argv[0]
            )
        )
    missing = [name for name in ("venv", "ensurepip") if find_module(name) is None]
    if missing:
        raise CannotPrepare(
            "this Python ({}) lacks its module {}: on Debian or Ubuntu run  apt install"
            " python3-venv , elsewhere install the full Python".format(
                sys.executable, " and ".join(missing)
            )
        )


def environment_python(folder):
    """The path of the interpreter inside the environment `folder`."""
    inside = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
    return folder.joinpath(*inside)


def ready_environment(folder, checkout, extras="", say=print):
    """Make or reuse the environment `folder` with the checkout installed; gives its python.

    folder, checkout: pathlib.Path; extras: "" or "[test]"; say: called with one line a step.
    The install is an editable one, so that the checkout's own static files are used.
    Raises CannotPrepare with the end of the installer's output.
    """
    check_python()
    python, stamp = environment_python(folder), folder / "ready"
    wanted = _fingerprint(folder, checkout, extras)
    if python.exists() and stamp.exists() and stamp.read_text() == wanted:
        return python
    if folder.exists():
        say("removing an environment that is half-made or out of date")
        _remove(folder)
    say("making a virtual environment in {}".format(folder))
    _run_logged([sys.executable, "-I", "-m", "venv", str(folder)], checkout, folder)
    say("installing what {} needs (a minute or two, once)".format(checkout.name))
    pip = [
        str(python),
        "-I",
        "-m",
        "pip",
        "install",
        "--disable-pip-version-check",
        "-e",
        "." + extras,
    ]
    _run_logged(pip, checkout, folder)
    # Written last: without it the next start knows that this one was cut short.
    stamp.write_text(wanted)
    return python


def _fingerprint(folder, checkout, extras):
    """Changes when the environment must be remade: needs, place or Python differ."""
    parts = [
        (checkout / "pyproject.toml").read_text(),
        str(folder),
        str(checkout),
        extras,
        sys.version,
    ]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def _remove(folder):
    try:
        shutil.rmtree(str(folder))
    except OSError as error:
        raise CannotPrepare("cannot remove {}: {}: remove it by hand".format(folder, error))


def _run_logged(command, checkout, folder):
    done = subprocess.run(
        command,
        cwd=str(checkout),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    if done.returncode:
        lines = done.stdout.decode("utf-8", "replace").splitlines()[-TAIL_LINES:]
        raise CannotPrepare(
            "\n".join(lines)
            + "\ncould not prepare {} (the command's last lines are above): "
            "see that there is a network and room on the disk, then start again".format(folder)
        )
