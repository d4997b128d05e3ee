"""The folder that holds authority, certificate and origin: made whole at once, opened, renewed,
moved.

authority.pem   key and certificate of the authority; its owner alone may read it server.pem
key and certificate of the server, renewed when it is due origin.json     the address that phones
know
"""

import os
import shutil
import tempfile
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from cryptography import x509

from qcapp.errors import Clash, NotFound, StartError
from qcapp.lan.authority import Authority, read_authority
from qcapp.lan.clock import refuse_wrong_clock
from qcapp.lan.leaf import count_days_left, is_due, make_leaf, read_leaf
from qcapp.lan.origin import Origin, read_origin

AUTHORITY, SERVER, ORIGIN = "authority.pem", "server.pem", "origin.json"


@dataclass(frozen=True)
class Lan:
    """What the folder holds."""

    folder: Path
    authority: Authority
    origin: Origin
    leaf: x509.Certificate | None

    @property
    def server_path(self) -> Path:
        return self.folder / SERVER

    def list_open_files(self) -> list[Path]:
        """Key files that others than the owner may read (always empty where files have no such
        modes).
        """
        if os.name == "nt":
            return []
        return [
            path
            for name in (AUTHORITY, SERVER)
            if (path := self.folder / name).exists() and path.stat().st_mode & 0o077
        ]


def create_lan(folder: Path, *, authority: Authority, origin: Origin, now: datetime) -> Lan:
    """Makes the folder, all of it or nothing. Raises Clash when it is already there."""
    refuse_wrong_clock(now)
    refuse_ended(authority, now)
    authority.check_address(origin.host)
    if folder.exists():
        raise Clash(
            "an authority is made only once, and this folder already exists",
            str(folder),
            "use it; to change the address: qcapp lan move --to ADDRESS",
        )
    folder.parent.mkdir(parents=True, exist_ok=True)
    # Beside its place, so that the last step is one rename; mkdtemp's folder is the owner's alone.
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        leaf = make_leaf(authority, address=origin.host, name=authority.name, now=now)
        for name, text in (
            (AUTHORITY, authority.as_pem()),
            (SERVER, leaf),
            (ORIGIN, origin.as_json()),
        ):
            write_private(beside / name, text)
        beside.rename(folder)
    except BaseException:
        shutil.rmtree(beside, ignore_errors=True)
        raise
    return open_lan(folder)


def open_lan(folder: Path) -> Lan:
    """Reads the folder. Raises NotFound when there is none, StartError when it is damaged."""
    if not folder.is_dir():
        raise NotFound(
            "there is no authority here",
            str(folder),
            "make one with qcapp lan init --address ADDRESS, or name its folder with --folder",
        )
    origin = read_origin(folder / ORIGIN)
    authority = read_authority(_read(folder / AUTHORITY), str(folder / AUTHORITY))
    server = folder / SERVER
    return Lan(folder, authority, origin, read_leaf(_read(server)) if server.exists() else None)


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise StartError(
            f"this file cannot be read: {error}",
            str(path),
            "restore it, or run as the user who made it",
        ) from error


def write_private(path: Path, text: str) -> None:
    """Whole or not at all, and never for a moment readable by others."""
    beside = path.with_name(f".{path.name}.new")
    beside.unlink(missing_ok=True)
    opened = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(opened, "w", encoding="utf-8") as stream:
        stream.write(text)
        stream.flush()
        os.fsync(stream.fileno())
    beside.replace(path)


def refuse_ended(authority: Authority, now: datetime) -> None:
    """Raises StartError: an authority is not renewed by itself, because every phone would have to
    install it.
    """
    if count_days_left(authority.certificate, now) < 0:
        raise StartError(
            "the authority has expired",
            f"on {authority.certificate.not_valid_after_utc:%Y-%m-%d}",
            "let every phone send, then make a new one in another folder with qcapp lan init "
            "--folder; every phone installs it",
        )


def renew_if_due(lan: Lan, now: datetime) -> Lan:
    """At each start: a new server certificate where one is due; the authority stays."""
    refuse_wrong_clock(now, lan.authority.made_at)
    refuse_ended(lan.authority, now)
    if not is_due(lan.leaf, lan.authority, address=lan.origin.host, now=now):
        return lan
    return _with_leaf(lan, now)


def _with_leaf(lan: Lan, now: datetime) -> Lan:
    text = make_leaf(lan.authority, address=lan.origin.host, name=lan.authority.name, now=now)
    write_private(lan.server_path, text)
    return replace(lan, leaf=read_leaf(text))


def move_lan(lan: Lan, *, origin: Origin, now: datetime) -> Lan:
    """The same authority under another origin. Raises BadInput when it may not vouch for that
    address.
    """
    refuse_wrong_clock(now, lan.authority.made_at)
    refuse_ended(lan.authority, now)
    lan.authority.check_address(origin.host)
    moved = replace(lan, origin=origin)
    # Cut short after the first: the next start sees a certificate for another address and makes it
    # anew.
    moved = _with_leaf(moved, now)
    write_private(lan.folder / ORIGIN, origin.as_json())
    return moved
