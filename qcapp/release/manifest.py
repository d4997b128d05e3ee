"""What a release says of itself: version, system, and every file with its hash. As JSON, signed as
it stands.
"""

import hashlib
import json
import platform
import re
from dataclasses import asdict, dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

FORMAT = 1
MANIFEST, SIGNATURE = "release.json", "release.sig"
# More than any version had, and no more than a laptop can hold beside its records.
MAX_FILES = 20_000
MAX_UNPACKED_BYTES = 2_000_000_000
# What no system takes as a file's name, and what would lead out of the folder on one of them.
BAD_IN_NAME = re.compile(r'[\x00-\x1f<>:"|?*\\]')
HASH = re.compile(r"[0-9a-f]{64}")
VERSION = re.compile(r"\d{1,6}(\.\d{1,6}){1,3}")


@dataclass(frozen=True)
class ReleaseFile:
    """size: bytes; sha256: hex; is_program: may be started."""

    size: int
    sha256: str
    is_program: bool


@dataclass(frozen=True)
class Manifest:
    """system: as get_system says it; entry: the file that is started; files: by their path with /
    below the folder.
    """

    version: str
    system: str
    entry: str
    files: dict[str, ReleaseFile]

    @property
    def unpacked_bytes(self) -> int:
        return sum(file.size for file in self.files.values())

    def as_bytes(self) -> bytes:
        files = {name: asdict(file) for name, file in sorted(self.files.items())}
        said = {"format": FORMAT, "version": self.version, "system": self.system}
        return (json.dumps({**said, "entry": self.entry, "files": files}, indent=1) + "\n").encode()


def get_system() -> str:
    """Such as linux-x86_64."""
    return f"{platform.system()}-{platform.machine()}".lower()


def order_version(version: str) -> tuple[int, ...]:
    """To compare: 0.10 is after 0.9. Raises BadInput."""
    if not VERSION.fullmatch(version):
        raise _refuse(phrase("%(version)s is no version", version=repr(version[:40])))
    numbers = [int(part) for part in version.split(".")]
    while numbers and not numbers[-1]:
        numbers.pop()
    return tuple(numbers)


def list_folder(folder: Path, *, version: str, entry: str) -> Manifest:
    """Of a built folder, without what an earlier signing left in it."""
    files = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            raise BadInput(
                phrase("a release holds no links"), name, phrase("build the folder anew")
            )
        if path.is_file() and name not in (MANIFEST, SIGNATURE):
            digest = hash_file(path)
            is_program = bool(path.stat().st_mode & 0o100)
            files[name] = ReleaseFile(path.stat().st_size, digest, is_program)
    return Manifest(version, get_system(), entry, files)


def hash_file(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def read_manifest(raw: bytes) -> Manifest:
    """Raises BadInput for anything that is not one, or names a file outside of its folder."""
    try:
        said = json.loads(raw)
        if said["format"] != FORMAT:
            raise _refuse(phrase("this release is of another kind than this program reads"))
        files = {str(name): _read_file(one) for name, one in said["files"].items()}
        found = Manifest(str(said["version"]), str(said["system"]), str(said["entry"]), files)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise _refuse(phrase("the list of the release's files cannot be read")) from error
    _refuse_names(found)
    order_version(found.version)
    return found


def _read_file(said: Any) -> ReleaseFile:
    size, digest, is_program = said["size"], said["sha256"], said["is_program"]
    if type(size) is not int or size < 0 or not HASH.fullmatch(digest):
        raise ValueError("size or hash")
    return ReleaseFile(size, digest, bool(is_program))


def _refuse_names(found: Manifest) -> None:
    for name in found.files:
        if not is_inside(name):
            raise _refuse(phrase("the release names a file outside of its folder"), name[:200])
    folded = {name.casefold() for name in found.files}
    if len(folded) != len(found.files) or not 0 < len(found.files) <= MAX_FILES:
        raise _refuse(phrase("the release names a file twice, none, or too many"))
    if found.entry not in found.files or "/" in found.entry:
        raise _refuse(phrase("the release does not hold the program that it names"))
    if found.unpacked_bytes > MAX_UNPACKED_BYTES:
        raise _refuse(phrase("the release is larger than any version may be"))


def is_inside(name: str) -> bool:
    """Whether a path stays in its folder on every system: relative, with / alone, without .. ."""
    parts = PurePosixPath(name).parts
    is_plain = name == "/".join(parts) and not BAD_IN_NAME.search(name)
    return (
        is_plain
        and bool(parts)
        and not name.startswith("/")
        and not any(part in (".", "..") or part.endswith((".", " ")) for part in parts)
    )


def _refuse(what: str, where: str = "") -> BadInput:
    return BadInput(what, where, phrase("get the file again from who publishes the program"))
