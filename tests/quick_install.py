"""Locked packages by uv, which takes seconds where pip takes a minute. pip brings uv itself, by
the lock's hashes, and all of them where uv cannot: pip may be set up for a registry that uv does
not know of.

Standard library only: nothing is installed yet.
"""

import re
import subprocess
import tempfile
from pathlib import Path

from environment import install_with_pip


def pick(lock: str, name: str) -> str:
    """The lines of one package of a lock file: its version and the hashes of its files."""
    found = re.search(rf"^{name}==.*?(?=^\S|\Z)", lock, re.MULTILINE | re.DOTALL)
    return found[0] if found else ""


def install_with_uv(python, packages, checkout):
    """packages: a lock file's path, or a list of arguments for pip."""
    uv = "" if isinstance(packages, list) else pick(packages.read_text(), "uv")
    if not uv or not _install_all(python, packages, checkout, uv):
        install_with_pip(python, packages, checkout)


def _install_all(python, lock, checkout, uv):
    """Whether uv could."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "uv.lock"
        path.write_text(uv)
        install_with_pip(python, path, checkout)
    # The system's certificates, as pip takes them: a company's own are among them.
    command = [python, "-I", "-m", "uv", "pip", "install", "--quiet", "--system-certs"]
    command += ["--python", python, "--require-hashes", "-r", str(lock)]
    return subprocess.run(command, cwd=checkout, check=False).returncode == 0
