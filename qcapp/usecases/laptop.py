"""What the lead's page of this laptop shows and asks for. Whoever runs the server fills it in."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from qcapp.errors import BadInput, QcappError, StoreError
from qcapp.i18n.phrase import phrase
from qcapp.machine.places import RemovablePlace, list_removable_places, measure_free
from qcapp.machine.sign_in_start import StartFile
from qcapp.store.engine import Store
from qcapp.store.registry import accounts
from qcapp.store.upkeep.backup_contents import BackupContents, read_contents
from qcapp.store.upkeep.daily_backup import KeptBackup, copy_to_second, copy_whole, list_backups
from qcapp.usecases.keep_backups import BackupKeeper
from qcapp.usecases.load_phones import PhonesView, load_phones

# On a stick that holds other things too.
STICK_FOLDER = "qcapp-backups"
KEYS_FOLDER = "keys"
# Below this many bytes a page warns: a day's photos, the day's backup, a new version.
LITTLE_FREE = 2_000_000_000


@dataclass(frozen=True)
class Network:
    """How phones reach this laptop. address: https, ending with /; first_page: where a new phone
    begins, plain http; is_open: it answers there now; problem: why not. days_left: of the server's
    certificate, None where there is none yet; authority_days_left: of what phones trust.
    """

    address: str
    first_page: str
    is_open: bool
    problem: QcappError | None
    days_left: int | None
    authority_days_left: int


@dataclass(frozen=True)
class UpdateState:
    """How far an update is. problem: why it ended; None while it goes on, or when it went well."""

    file: str
    step: str
    problem: QcappError | None = None
    is_over: bool = False


class Laptop(Protocol):
    """Whoever runs the server of `qcapp start`: it can stop for a moment and do what needs that.

    address: of the pages on the laptop itself, ending with /; note: what the last restore or update
    came to, a phrase; start_file: what starts the program when someone signs in.
    """

    address: str
    note: str | None
    update: UpdateState | None
    start_file: StartFile

    def describe_network(self) -> Network | None:
        """None while no phone can reach it because nothing was set up."""

    def list_addresses(self) -> list[str]:
        """Those among which the lead may choose."""

    def open_network(self, address: str) -> None:
        """Lets phones in at one of them, now and at each start. Raises QcappError."""

    def list_keys(self) -> list[Path]:
        """Files that a backup does not hold and that nobody can make again."""

    def restore(self, file: Path, by: str) -> None:
        """Soon: the server ends for it and starts again."""

    def begin_update(self, file: Path, name: str) -> None:
        """In the background; its folder goes when it is over. name: as the lead knows the file.

        Raises QcappError where this program cannot be updated so.
        """


@dataclass(frozen=True)
class LaptopView:
    """free: bytes left where the database lies; places: sticks that are in."""

    network: Network | None
    phones: PhonesView
    free: int
    places: Sequence[RemovablePlace]

    @property
    def is_little_free(self) -> bool:
        return self.free < LITTLE_FREE


def load_laptop(store: Store, laptop: Laptop, folder: Path) -> LaptopView:
    """folder: where the yard's database lies."""
    return LaptopView(
        laptop.describe_network(),
        load_phones(store),
        measure_free(folder),
        list_removable_places(),
    )


def has_lead(store: Store) -> bool:
    with store.reading() as connection:
        return accounts.count_enabled(connection, "yard_lead") > 0


def choose_folder(chosen: str, typed: str) -> Path:
    """The place that was chosen, or typed where that was left open. Raises BadInput."""
    text = typed.strip() or chosen
    if not text:
        raise BadInput(
            phrase("no place was chosen"), "folder", phrase("choose a stick or type a folder")
        )
    folder = Path(text).expanduser()
    if not folder.is_dir():
        raise BadInput(
            phrase("there is no such folder"), str(folder), phrase("put the stick in, or type it")
        )
    return folder


def back_up_to(keeper: BackupKeeper, place: Path, keys: Sequence[Path]) -> KeptBackup:
    """A fresh backup and its copy at the place, read back; with the keys, where any are given.

    Raises QcappError: what went wrong, with the backup or at the place.
    """
    keeper.back_up_now()
    if keeper.problem:
        raise keeper.problem
    folder = place / STICK_FOLDER
    try:
        folder.mkdir(exist_ok=True)
        made = copy_to_second(replace(keeper.plan, second=folder))
        if keys:
            (folder / KEYS_FOLDER).mkdir(exist_ok=True)
    except OSError as error:
        raise StoreError(
            phrase("the place cannot be written: %(why)s", why=error.strerror),
            str(folder),
            phrase("use another stick or folder"),
        ) from error
    for key in keys:
        copy_whole(key, folder / KEYS_FOLDER / key.name)
    if made is None:
        raise StoreError(phrase("there is no backup yet"), str(folder), phrase("try again"))
    return made


def list_restorable(keeper: BackupKeeper, places: Sequence[RemovablePlace]) -> list[KeptBackup]:
    """Backups of this laptop, of the second place and of each stick, the newest first.

    On a stick those of other yards too: on a new laptop the database's name says nothing.
    """
    plan = keeper.plan
    folders = [plan.folder, *([plan.second] if plan.second else [])]
    found = [one for folder in folders for one in list_backups(folder, plan.name)]
    for place in places:
        found += list_any_backups(place.path / STICK_FOLDER)
    return sorted(found, key=lambda one: one.made_at, reverse=True)


def list_any_backups(folder: Path) -> list[KeptBackup]:
    names = {path.name.rsplit("-", 2)[0] for path in folder.glob("*-*-*Z.db")}
    return [one for name in sorted(names) for one in list_backups(folder, name)]


def read_chosen_backup(text: str) -> tuple[Path, BackupContents]:
    """The file that was chosen and what it holds. Raises QcappError where it is no whole backup."""
    if not text.strip():
        raise BadInput(
            phrase("no backup was chosen"), "file", phrase("choose one, or type where it lies")
        )
    file = Path(text.strip()).expanduser()
    return file, read_contents(file)


def tell_restored(records: int, kept: Path | None, now: datetime) -> str:
    """What the page says after a restore."""
    return phrase(
        "The backup is in place since %(when)s, with %(n)s records. What was here before is kept "
        "as %(kept)s. Phones send again what the backup lacks.",
        when=f"{now:%Y-%m-%d %H:%M} UTC",
        n=records,
        kept=str(kept),
    )
