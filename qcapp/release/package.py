"""A release as one zip: a folder qcapp with the program, its manifest and the signature. The same
file is unzipped by hand on a new laptop.
"""

import hashlib
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.release.files import write_durably
from qcapp.release.manifest import (
    MANIFEST,
    MAX_FILES,
    SIGNATURE,
    Manifest,
    ReleaseFile,
    list_folder,
    read_manifest,
)
from qcapp.release.signing import SIGNATURE_BYTES, check_signature, sign

FOLDER = "qcapp"
MAX_MANIFEST_BYTES = 8_000_000
PIECE = 1 << 20


def sign_folder(folder: Path, key: Ed25519PrivateKey, *, version: str, entry: str) -> Manifest:
    """Writes manifest and signature into a built folder."""
    manifest = list_folder(folder, version=version, entry=entry)
    if entry not in manifest.files:
        raise BadInput(
            phrase("there is no built program in this folder"), str(folder), phrase("build it")
        )
    raw = manifest.as_bytes()
    (folder / MANIFEST).write_bytes(raw)
    (folder / SIGNATURE).write_bytes(sign(raw, key))
    return manifest


def pack_folder(folder: Path, target: Path) -> None:
    """The folder as a zip, whatever its own name is."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                packed.write(path, f"{FOLDER}/{path.relative_to(folder).as_posix()}")


@dataclass(frozen=True)
class Release:
    """A zip whose manifest the publisher signed. Its files are not looked at yet."""

    manifest: Manifest
    packed: zipfile.ZipFile

    def unpack(self, folder: Path) -> None:
        """Every file, as the manifest says it is. Raises BadInput at the first that is not."""
        for name, file in self.manifest.files.items():
            target = folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            with self.packed.open(f"{FOLDER}/{name}") as stream:
                write_durably(target, _read_checked(stream, name, file), file.is_program)


@contextmanager
def open_release(file: Path, publisher: Ed25519PublicKey) -> Iterator[Release]:
    """Raises BadInput for what is no release, not this publisher's, or holds something else."""
    try:
        with zipfile.ZipFile(file) as packed:
            raw = _read_bounded(packed, MANIFEST, MAX_MANIFEST_BYTES)
            # First of all: nothing else in the file is believed before.
            check_signature(raw, _read_bounded(packed, SIGNATURE, SIGNATURE_BYTES), publisher)
            manifest = read_manifest(raw)
            _refuse_other_files(packed, manifest)
            yield Release(manifest, packed)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, EOFError) as error:
        raise _refuse(phrase("this file is no whole release")) from error
    except OSError as error:
        if error.filename and Path(error.filename) != file:
            raise
        raise _refuse(phrase("this file cannot be read")) from error


def _read_bounded(packed: zipfile.ZipFile, name: str, most: int) -> bytes:
    try:
        with packed.open(f"{FOLDER}/{name}") as stream:
            read = stream.read(most + 1)
    except (KeyError, RuntimeError) as error:
        raise _refuse(phrase("this file is no release: %(name)s is missing", name=name)) from error
    if len(read) > most:
        raise _refuse(phrase("%(name)s of this release is too long", name=name))
    return read


def _refuse_other_files(packed: zipfile.ZipFile, manifest: Manifest) -> None:
    """What is in the zip is what the publisher signed: nothing more, less or twice, no link."""
    entries = [one for one in packed.infolist() if not one.is_dir()]
    wanted = {f"{FOLDER}/{name}" for name in (*manifest.files, MANIFEST, SIGNATURE)}
    names = [one.filename for one in entries]
    if len(names) > MAX_FILES + 2 or len(set(names)) != len(names) or set(names) != wanted:
        raise _refuse(phrase("this release does not hold the files that its publisher signed"))


def _read_checked(stream: IO[bytes], name: str, file: ReleaseFile) -> Iterator[bytes]:
    """Never a byte more than was signed: a file that unpacks without end is left at its size."""
    digest, left = hashlib.sha256(), file.size
    while piece := stream.read(min(PIECE, left + 1)):
        left -= len(piece)
        if left < 0:
            break
        digest.update(piece)
        yield piece
    if left or digest.hexdigest() != file.sha256:
        raise _refuse(phrase("a file of this release is not the one that was signed"), name)


def _refuse(what: str, where: str = "") -> BadInput:
    return BadInput(what, where, phrase("get the file again from who publishes the program"))
