"""Where the program's versions lie, and which of them is started.

qcapp/                     what was unzipped by hand: it stays as it is, and starts the chosen one
qcapp/versions/0.2.0/      a version that an update brought, whole: it had another name until then
qcapp/versions/chosen.json which one is started; without it the one that was unzipped

Choosing is one replaced file, so that a power cut leaves the old choice or the new one.
"""

import json
import shutil
import sys
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from qcapp.errors import StartError
from qcapp.i18n.phrase import phrase
from qcapp.release.files import replace_durably

VERSIONS, CHOSEN = "versions", "chosen.json"
PART = ".incoming-"


@dataclass(frozen=True)
class Choice:
    """version, before: as folders of versions/, empty for what was unzipped by hand. is_proven: it
    has answered with the yard's own records; copy: these as they were before, None when no yard
    was there yet; failed: why a later version was given up, for the lead to read.
    """

    version: str = ""
    before: str = ""
    is_proven: bool = True
    copy: str | None = None
    failed: str | None = None


@dataclass(frozen=True)
class ProgramPlace:
    """root: the folder that was unzipped; entry: the name of the file that is started."""

    root: Path
    entry: str

    @property
    def versions(self) -> Path:
        return self.root / VERSIONS

    def read_choice(self) -> Choice:
        """What is started now; the unzipped one where the choice cannot be read or is not whole."""
        try:
            choice = Choice(**json.loads((self.versions / CHOSEN).read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError):
            return Choice()
        return choice if self.find_entry(choice.version).is_file() else Choice()

    def choose(self, choice: Choice) -> None:
        self.versions.mkdir(exist_ok=True)
        replace_durably(self.versions / CHOSEN, json.dumps(asdict(choice)).encode())

    def prove(self, own: Path) -> None:
        """Called by a version once it answers. own: its program; only the chosen one counts."""
        choice = self.read_choice()
        if not choice.is_proven and self.find_entry(choice.version).resolve() == own.resolve():
            self.choose(replace(choice, is_proven=True))

    def find_entry(self, version: str) -> Path:
        return (self.versions / version if version else self.root) / self.entry

    def drop_leftovers(self) -> None:
        """Parts of updates that were cut off, and versions before the last two."""
        choice = self.read_choice()
        for path in self.versions.iterdir() if self.versions.is_dir() else ():
            is_kept = path.name in (choice.version, choice.before) or not path.is_dir()
            if not is_kept:
                shutil.rmtree(path, ignore_errors=True)


def find_own_place() -> ProgramPlace | None:
    """Of this process; None for a program that was installed by other means."""
    if not getattr(sys, "frozen", False):
        return None
    return find_place_of(Path(sys.executable).resolve())


def find_place_of(program: Path) -> ProgramPlace:
    """Of the unzipped program and of one in its versions/."""
    folder = program.parent
    is_version = folder.parent.name == VERSIONS and (folder.parent.parent / program.name).is_file()
    return ProgramPlace(folder.parent.parent if is_version else folder, program.name)


def need_own_place() -> ProgramPlace:
    """Raises StartError where the program cannot replace itself."""
    place = find_own_place()
    if place is None:
        raise StartError(
            phrase("this program was installed with Python and is updated in the same way"),
            sys.executable,
            phrase("see the guide's page Install and start"),
        )
    return place
