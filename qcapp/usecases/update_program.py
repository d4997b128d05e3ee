"""Another version of the program from a signed file: looked at, unpacked beside, tried on a copy of
the records, chosen. Until the last step nothing is different for the running one.
"""

import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from qcapp.errors import Clash, StoreError
from qcapp.i18n.phrase import phrase
from qcapp.machine.places import measure_free
from qcapp.release.files import keep_names
from qcapp.release.manifest import Manifest, get_system, order_version
from qcapp.release.package import Release, open_release
from qcapp.release.place import PART, Choice, ProgramPlace
from qcapp.release.signing import read_publisher
from qcapp.release.trial import try_program
from qcapp.settings import Settings
from qcapp.store.engine import find_missing
from qcapp.store.upkeep.backup import back_up, get_sqlite_path
from qcapp.usecases.open_store import open_store

# Left free beside what an update needs.
SPARE_BYTES = 200_000_000
# The copy that is kept, the one of the trial, and what a migration writes into that.
COPIES = 3
Tell = Callable[[str], None]
TryOut = Callable[[Path, str, Mapping[str, str]], None]


@dataclass(frozen=True)
class Update:
    """place: of the program; running: the version that runs; publisher: PEM of the key by which
    releases are checked; tell: what is being done, a phrase; try_out: starts a new version.
    """

    place: ProgramPlace
    settings: Settings
    running: str
    publisher: Path
    tell: Tell
    try_out: TryOut = try_program

    def bring(self, file: Path, now: datetime) -> Manifest:
        """Chooses the version in the file. Raises QcappError; then the old one is as it was."""
        publisher = read_publisher(self.publisher)
        self.tell(phrase("The file and its signature are looked at."))
        with open_release(file, publisher) as release:
            manifest = release.manifest
            self._refuse(manifest)
            self.place.drop_leftovers()
            self._refuse_little_space(manifest)
            folder = self.place.versions / manifest.version
            try:
                self._unpack(release, folder)
                copy = self._try(folder, manifest, now)
            except BaseException:
                shutil.rmtree(folder, ignore_errors=True)
                raise
        before = self.place.read_choice().version
        self.tell(phrase("The new version is chosen."))
        self.place.choose(
            Choice(manifest.version, before, is_proven=False, copy=str(copy) if copy else None)
        )
        self.place.drop_leftovers()
        return manifest

    def _refuse(self, manifest: Manifest) -> None:
        if manifest.system != get_system():
            raise Clash(
                phrase("this release is for another system: %(system)s", system=manifest.system),
                get_system(),
                phrase("get the file for this system"),
            )
        # The chosen one need not have been started yet.
        newest = max(self.running, self.place.read_choice().version or "0.0", key=order_version)
        if order_version(manifest.version) <= order_version(newest):
            raise Clash(
                phrase(
                    "version %(version)s is not newer than the one that runs",
                    version=manifest.version,
                ),
                newest,
                phrase("there is nothing to do"),
            )

    def _refuse_little_space(self, manifest: Manifest) -> None:
        records = get_sqlite_path(self.settings.database_url)
        size = records.stat().st_size if records.exists() else 0
        # The two may lie on one disk.
        needed = manifest.unpacked_bytes + COPIES * size + SPARE_BYTES
        for place in (self.place.root, records.parent):
            if measure_free(place) < needed:
                raise StoreError(
                    phrase(
                        "there is too little room: the update needs %(mb)s MB",
                        mb=needed // 1_000_000,
                    ),
                    str(place),
                    phrase("make room and try again; nothing was changed"),
                )

    def _unpack(self, release: Release, folder: Path) -> None:
        self.tell(phrase("The new version is unpacked, each file checked."))
        part = folder.with_name(f"{PART}{folder.name}")
        part.mkdir(parents=True)
        release.unpack(part)
        part.rename(folder)
        keep_names(folder.parent)

    def _try(self, folder: Path, manifest: Manifest, now: datetime) -> Path | None:
        """Gives the copy of the records as they were, None where there is no yard yet."""
        self.tell(phrase("The records are copied, and the copy is looked through."))
        url, copy = self.settings.database_url, None
        if not find_missing(url):
            records = get_sqlite_path(url)
            self._drop_copies(records)
            copy = records.with_name(
                f"{records.stem}.before-{manifest.version}-{now:%Y%m%d-%H%M%S}{records.suffix}"
            )
            back_up(url, copy)
        try:
            self.tell(phrase("The new version is tried on a copy of the records."))
            with self._trial_yard(copy) as surroundings:
                self.try_out(folder / manifest.entry, manifest.version, surroundings)
        except BaseException:
            if copy:
                copy.unlink(missing_ok=True)
            raise
        return copy

    def _drop_copies(self, records: Path) -> None:
        """Those of earlier updates, and parts that were cut off; the last update's stays."""
        last = self.place.read_choice().copy
        for form in (f"{records.stem}.before-*{records.suffix}", f".{records.stem}.before-*"):
            for path in records.parent.glob(form):
                if str(path) != last:
                    path.unlink(missing_ok=True)

    @contextmanager
    def _trial_yard(self, copy: Path | None) -> Iterator[dict[str, str]]:
        """Environment of a yard that may be spoilt: the real one's files are not in it."""
        # A new version may still write there when it is ended: on Windows that cannot be removed.
        with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as named:
            home = Path(named)
            records, key = home / "trial.db", home / "key.pem"
            surroundings = {
                "QCAPP_DATABASE_URL": f"sqlite:///{records}",
                "QCAPP_KEY_FILE": str(key),
                "QCAPP_BACKUP_DIR": str(home / "backups"),
            }
            if copy:
                shutil.copyfile(copy, records)
                own = self.settings.key_file.expanduser()
                if own.is_file():
                    shutil.copyfile(own, key)
            else:
                empty = Settings(database_url=surroundings["QCAPP_DATABASE_URL"])
                with closing(open_store(empty)):
                    pass
            yield surroundings
