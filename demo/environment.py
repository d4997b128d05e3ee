"""A virtual environment with the locked packages and the checkout itself, made once.

Standard library only, and written so that any Python 3.6 or later can read it far
enough to say that it is too old.
"""

import hashlib
import importlib.util
import os
import subprocess
import sys

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
            "this Python ({}) lacks its module {}: on Debian or Ubuntu run  apt install "
            "python3-venv , elsewhere install the full Python".format(
                sys.executable, " and ".join(missing)
            )
        )


def install_with_pip(python, packages, checkout):
    """packages: a lock file's path, or a list of arguments for pip."""
    locked = packages if isinstance(packages, list) else ["--require-hashes", "-r", str(packages)]
    _run([*_start_pip(python), *locked], checkout)


def ready_environment(folder, checkout, packages, say=print, install=install_with_pip):
    """Make or reuse the environment `folder` with the checkout installed; gives its python.

    folder, checkout: pathlib.Path; packages: what is to be installed first, a lock file's path
    or a list of arguments for pip; say: called with one line before the work; install: called
    with the environment's python, packages and checkout.
    The install is an editable one, so that the checkout's own static files are used.
    Raises CannotPrepare with the end of the failed command's output.
    """
    check_python()
    stamp = folder / "ready"
    python = folder.joinpath(*(("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")))
    wanted = _fingerprint(folder, checkout, packages)
    if python.exists() and stamp.exists() and stamp.read_text() == wanted:
        return python
    if stamp.exists():
        stamp.unlink()
    say(f"making the environment {folder} (a minute or two, once)")
    _run([sys.executable, "-I", "-m", "venv", "--clear", str(folder)], checkout)
    install(str(python), packages, checkout)
    _run([*_start_pip(str(python)), "--no-deps", "--no-build-isolation", "-e", "."], checkout)
    # Written last: without it the next start knows that this one was cut short.
    stamp.write_text(wanted)
    return python


def _start_pip(python):
    return [python, "-I", "-m", "pip", "install", "--disable-pip-version-check"]


def _fingerprint(folder, checkout, packages):
    """Changes when the environment must be remade: packages, place or Python differ."""
    named = str(packages) if isinstance(packages, list) else packages.read_text()
    # What follows there tells the tools how to work, and changes no package.
    project = (checkout / "pyproject.toml").read_text().partition("\n[tool.")[0]
    parts = [project, named, str(folder), str(checkout), sys.version]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def _run(command, checkout):
    done = subprocess.run(
        command,
        cwd=str(checkout),
        check=False,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    if done.returncode:
        lines = done.stdout.decode("utf-8", "replace").splitlines()[-TAIL_LINES:]
        raise CannotPrepare(
            "\n".join(lines)
            + "\ncould not make the environment (the command's last lines are above): "
            "see that there is a network and room on the disk, then start again"
        )
