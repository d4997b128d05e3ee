"""Writes the three lock files anew, with the newest versions that pyproject.toml allows:
python3 tests/run.py lock.

Each holds one version of every package for every system and Python that the product runs on, and
the hashes of all its files; it names no registry, so pip takes the one it is set up with.
"""

import subprocess
import sys
import tomllib
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parent.parent
PROJECT = CHECKOUT / "pyproject.toml"
# What the tests need holds all that running needs: it is found first, and running follows it.
LOCKS = {
    "tests/requirements.lock": ["--extra", "test", "--upgrade"],
    "demo/requirements.lock": ["--constraint", "tests/requirements.lock"],
    ".ci/requirements.lock": ["--extra", "folder", "--constraint", "tests/requirements.lock"],
}
COMMAND = [
    "pip",
    "compile",
    "--quiet",
    "--universal",
    "--generate-hashes",
    "--no-emit-index-url",
    "--no-header",
    "--no-annotate",
]


def write_locks(say=print) -> None:
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))
    oldest = project["project"]["requires-python"].removeprefix(">=")
    # The checkout itself is built without fetching anything more.
    build = "\n".join(project["build-system"]["requires"])
    uv = [sys.executable, "-m", "uv", *COMMAND, "--python-version", oldest]
    for name, more in LOCKS.items():
        subprocess.run(
            [*uv, *more, "--output-file", name, PROJECT.name, "-"],
            cwd=CHECKOUT,
            input=build,
            text=True,
            check=True,
            stdout=subprocess.DEVNULL,
        )
        say(f"{name} written")


if __name__ == "__main__":
    write_locks()
