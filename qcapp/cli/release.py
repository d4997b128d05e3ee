"""Commands of versions: for who publishes them, and for who updates."""

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from qcapp import __version__
from qcapp.release.manifest import order_version
from qcapp.release.package import pack_folder, sign_folder
from qcapp.release.place import need_own_place
from qcapp.release.signing import PUBLISHER, make_release_key, read_release_key, write_public
from qcapp.settings import Settings
from qcapp.usecases.update_program import Update


def make_key(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="the private key, kept secret")],
) -> None:
    """Makes the key with which releases are signed, and prints its public half."""
    key = make_release_key(file)
    print(write_public(key.public_key()).decode(), end="")


def sign_release(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="the built folder")],
    key: Annotated[Path, typer.Option(help="the private key of qcapp release key")],
    out: Annotated[Path | None, typer.Option(help="the zip that is given away")] = None,
    version: Annotated[
        str, typer.Option(help="of the program in the folder (this program's)")
    ] = __version__,
) -> None:
    """Lists every file of a built folder with its hash, signs the list, and packs the folder."""
    order_version(version)
    entry = "qcapp.exe" if os.name == "nt" else "qcapp"
    manifest = sign_folder(folder, read_release_key(key), version=version, entry=entry)
    print(f"{len(manifest.files)} files of version {version} for {manifest.system} are signed")
    if out:
        pack_folder(folder, out)
        print(f"{out}: {out.stat().st_size / 1e6:.1f} MB")


def update(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="the release, a zip")],
) -> None:
    """Brings the program to the version in FILE, if its publisher signed it and it answers with a
    copy of the records; the old version stays.
    """
    place = need_own_place()
    change = Update(place, Settings(), __version__, PUBLISHER, lambda step: print(step, flush=True))
    manifest = change.bring(file, datetime.now(UTC))
    print(
        f"Version {manifest.version} is started from now on. Stop the program if it runs, and "
        "start it again. If it does not answer, this version and its records come back."
    )
