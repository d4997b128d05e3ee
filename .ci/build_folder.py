#!/usr/bin/env python3
"""The program as one folder that needs no Python: environment, build, trim, pack, one command.

    python3 .ci/build_folder.py             makes .ci/dist/qcapp-SYSTEM.zip and what is in it
    python3 .ci/build_folder.py --no-pack   the folder .ci/dist/qcapp alone
    python3 .ci/build_folder.py --sign KEY  as a release: the publisher's public key lies in the
                                            program, which takes signed updates from then on

Needs Python 3.11 or later on the system that the folder is for. Exit 77: what builds it could not
be installed here.
"""

import argparse
import os
import platform
import shutil
import subprocess
import sys
import time
import zipfile
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parent
CHECKOUT = HERE.parent
sys.path[:0] = [str(CHECKOUT / "demo"), str(HERE)]

from environment import CannotPrepare, ready_environment
from parts import find_used_modules, is_needed, list_languages

SKIPPED = 77
MAX_PACKED_BYTES = 130_000_000
SOURCE = CHECKOUT / "qcapp"
DIST, WORK = HERE / "dist", HERE / "build"
FOLDER = DIST / "qcapp"
PACKAGES = "_internal"
# What no path of the program reaches. (scipy asks for the whole of numpy, its tests' tools too.)
LEFT_OUT = ("tkinter", "pip", "setuptools", "scipy.stats")
# The folders beside the package lie inside it, as in a wheel; migrations are run by their paths.
DATA = {
    "static": "qcapp/bundled/static",
    "checklists": "qcapp/bundled/checklists",
    "demo/scenario.yaml": "qcapp/bundled/demo",
    "qcapp/store/migrations": "qcapp/store/migrations",
}


WRITE_PUBLIC = """
import sys
from pathlib import Path
from qcapp.release.signing import read_release_key, write_public
Path(sys.argv[2]).write_bytes(write_public(read_release_key(Path(sys.argv[1])).public_key()))
"""


def build(python: Path, publisher: Path | None) -> None:
    """The untrimmed folder. publisher: public key by which the program checks its updates."""
    command = [python, "-I", "-m", "PyInstaller", "--noconfirm", "--onedir", "--name", "qcapp"]
    command += ["--distpath", DIST, "--workpath", WORK, "--specpath", WORK, "--log-level", "WARN"]
    command += ["--collect-submodules", "qcapp", "--collect-data", "qcapp"]
    command += ["--collect-submodules", "uvicorn"]
    for name in sorted(find_used_modules("scipy", SOURCE)):
        command += ["--hidden-import", name]
    for name in LEFT_OUT:
        command += ["--exclude-module", name]
    if publisher:
        command += ["--add-data", f"{publisher}{os.pathsep}qcapp/release"]
    for source, place in DATA.items():
        command += ["--add-data", f"{CHECKOUT / source}{os.pathsep}{place}"]
    subprocess.run([*map(str, command), str(HERE / "start.py")], cwd=CHECKOUT, check=True)


def trim() -> int:
    """Bytes of what was taken out."""
    languages, before = list_languages(SOURCE), measure(FOLDER)
    inside = FOLDER / PACKAGES
    for path in sorted(inside.rglob("*")):
        within = path.relative_to(inside).as_posix()
        # A link stands for a library beside its package, where the package looks itself; packed, it
        # would be the library once more.
        if path.is_symlink() or (path.is_file() and not is_needed(within, languages)):
            path.unlink()
    strip = shutil.which("strip") if sys.platform == "linux" else None
    # Only Python itself: the libraries of wheels were patched after they were made, and stripping
    # breaks some.
    for library in inside.glob("libpython*.so*") if strip else ():
        subprocess.run([strip, str(library)], check=True)
    return before - measure(FOLDER)


def measure(folder: Path) -> int:
    return sum(path.lstat().st_size for path in folder.rglob("*") if path.is_file())


def add_files_for_people() -> None:
    for path in (HERE / "folder").iterdir():
        shutil.copy(path, FOLDER / path.name)


def write_publisher(python: Path, key: Path) -> Path:
    WORK.mkdir(exist_ok=True)
    target = WORK / "publisher.pem"
    words = [python, "-c", WRITE_PUBLIC, key, target]
    subprocess.run([*map(str, words)], cwd=CHECKOUT, check=True)
    return target


def sign(python: Path, key: Path) -> None:
    """The list of files with its signature, in the folder."""
    words = [python, "-m", "qcapp", "release", "sign", FOLDER, "--key", key]
    subprocess.run([*map(str, words)], cwd=CHECKOUT, check=True)


def pack() -> tuple[Path, Counter[str]]:
    """The packed file, and the packed bytes of each package."""
    name = f"qcapp-{platform.system()}-{platform.machine()}.zip".lower()
    target, weighs = DIST / name, Counter[str]()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        for path in sorted(FOLDER.rglob("*")):
            if path.is_file():
                within = path.relative_to(DIST)
                packed.write(path, within)
                place = within.parts[2 if PACKAGES in within.parts else 1]
                weighs[place] += packed.getinfo(within.as_posix()).compress_size
    return target, weighs


def tell_weight(target: Path, weighs: Counter[str]) -> None:
    size = target.stat().st_size
    print(f"{target}: {size / 1e6:.1f} MB packed, {measure(FOLDER) / 1e6:.1f} MB unpacked")
    for name, packed in weighs.most_common(12):
        print(f"  {packed / 1e6:6.1f} MB  {name}")
    if size > MAX_PACKED_BYTES:
        sys.exit(f"more than {MAX_PACKED_BYTES / 1e6:.0f} MB packed: see above what weighs")


def main() -> int:
    parser = argparse.ArgumentParser(prog="build_folder.py", description=__doc__.splitlines()[0])
    parser.add_argument("--no-pack", action="store_true", help="the folder alone")
    parser.add_argument("--sign", type=Path, metavar="KEY", help="of qcapp release key")
    given = parser.parse_args()
    key = given.sign and given.sign.resolve()
    began = time.monotonic()
    try:
        python = ready_environment(HERE / ".venv", CHECKOUT, HERE / "requirements.lock")
    except CannotPrepare as error:
        print(f"folder: {error}", file=sys.stderr)
        return SKIPPED
    build(python, write_publisher(python, key) if key else None)
    print(f"{trim() / 1e6:.1f} MB taken out that nothing opens", flush=True)
    add_files_for_people()
    if key:
        sign(python, key)
    print(f"built in {time.monotonic() - began:.0f} s", flush=True)
    if not given.no_pack:
        tell_weight(*pack())
    return 0


if __name__ == "__main__":
    sys.exit(main())
