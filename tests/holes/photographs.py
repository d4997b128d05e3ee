"""Real photographs out of packages of the system, fetched by the package's name, never stored here.

They lie in tests/.photographs (ignored by git) until that folder is removed. What cannot be fetched
is a failure that names the package, not a silent skip.
"""

import hashlib
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

CACHE = Path(__file__).resolve().parent.parent / ".photographs"
SECONDS = 180


def fetch(package: str, inside: str) -> Path:
    """A folder with what the package has below a path of it."""
    target = CACHE / package
    if not target.exists():
        if not (shutil.which("apt-get") and shutil.which("dpkg-deb")):
            pytest.fail(f"photographs of the package {package}: no apt-get and dpkg-deb here")
        with tempfile.TemporaryDirectory() as name:
            unpack(package, inside, Path(name))
            CACHE.mkdir(exist_ok=True)
            # Two tests may fetch it at the same time: who comes second uses the first one's.
            try:
                (Path(name) / "out").rename(target)
            except OSError:
                shutil.copytree(Path(name) / "out", target, dirs_exist_ok=True)
    return target / inside


def unpack(package: str, inside: str, folder: Path) -> None:
    done = ask_apt(folder, "download", package)
    if done.returncode:
        # The list of packages may be missing, or name a version that is not there any more.
        ask_apt(folder, "update")
        done = ask_apt(folder, "download", package)
    files = list(folder.glob("*.deb"))
    if done.returncode or not files:
        pytest.fail(f"package {package} could not be fetched: {done.stderr.decode()[-300:]}")
    (folder / "out").mkdir()
    with subprocess.Popen(["dpkg-deb", "--fsys-tarfile", files[0]], stdout=subprocess.PIPE) as tar:
        subprocess.run(
            ["tar", "-x", "-C", folder / "out", "-f", "-", f"./{inside}"],
            stdin=tar.stdout,
            check=True,
            timeout=SECONDS,
        )


def ask_apt(folder: Path, *words: str) -> subprocess.CompletedProcess[bytes]:
    command = ["apt-get", "-q", "-o", "Acquire::http::Timeout=20", *words]
    return subprocess.run(command, cwd=folder, check=False, capture_output=True, timeout=SECONDS)


def read_grey(path: Path) -> np.ndarray:
    """Grey pixels (rows, columns) of a picture file."""
    with Image.open(path) as picture:
        return np.asarray(picture.convert("RGBA").convert("L"))


def has_hash(path: Path, digest: str) -> bool:
    return hashlib.sha256(path.read_bytes()).hexdigest() == digest
