"""The program started by itself when its owner signs in to the laptop: one file of the system's
own kind, written and taken away again.

Linux: a unit of the user's systemd, switched on by a link, as `systemctl --user enable` makes it.
Windows: a command file in the Startup folder. macOS: a LaunchAgent.
"""

import os
import plistlib
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from qcapp.errors import StartError
from qcapp.i18n.phrase import phrase

UNIT = "qcapp.service"
LABEL = "qcapp.start"


@dataclass(frozen=True)
class StartFile:
    """path: of the file; text: what it says; link: on Linux what switches it on."""

    path: Path
    text: str
    link: Path | None = None

    @property
    def is_on(self) -> bool:
        return self.path.is_file() and (self.link is None or self.link.is_symlink())


def describe_start(
    command: Sequence[str], *, home: Path | None = None, system: str = sys.platform
) -> StartFile:
    """The file for this system. command: the program with its arguments, by whole paths."""
    home = home or Path.home()
    if system == "win32":
        return _describe_windows(command, home)
    if system == "darwin":
        path = home / "Library" / "LaunchAgents" / f"{LABEL}.plist"
        agent = {"Label": LABEL, "ProgramArguments": list(command), "RunAtLoad": True}
        return StartFile(path, plistlib.dumps(agent).decode())
    folder = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config") / "systemd" / "user"
    return StartFile(folder / UNIT, write_unit(command), folder / "default.target.wants" / UNIT)


def _describe_windows(command: Sequence[str], home: Path) -> StartFile:
    roaming = Path(os.environ.get("APPDATA") or home / "AppData" / "Roaming")
    folder = roaming / "Microsoft" / "Windows" / "Start Menu" / "Programs" / "Startup"
    # start needs a title before a program in quotes; % would begin a variable.
    words = " ".join(f'"{word.replace("%", "%%")}"' for word in command)
    return StartFile(folder / "qcapp.cmd", f'@echo off\r\nstart "qcapp" /min {words}\r\n')


def write_unit(command: Sequence[str]) -> str:
    """A unit file (systemd.service(5))."""
    program, *arguments = command
    # A variable is looked for in arguments alone.
    words = [quote_word(program), *(quote_word(word).replace("$", "$$") for word in arguments)]
    return f"""[Unit]
Description=Quality control of the yard

[Service]
ExecStart={" ".join(words)}
Restart=on-failure
RestartSec=10

[Install]
WantedBy=default.target
"""


def quote_word(word: str) -> str:
    """In quotes; % would begin a specifier."""
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    return f'"{escaped}"'


def switch_on(file: StartFile) -> None:
    """Raises StartError where the system's folder cannot be written."""
    try:
        file.path.parent.mkdir(parents=True, exist_ok=True)
        # Line ends as they are: Windows wants its own in a command file.
        file.path.write_bytes(file.text.encode())
        if file.link:
            file.link.parent.mkdir(exist_ok=True)
            file.link.unlink(missing_ok=True)
            file.link.symlink_to(Path("..") / file.path.name)
    except OSError as error:
        raise _refuse(file, error) from error


def switch_off(file: StartFile) -> None:
    """Takes the file away. Raises StartError where it cannot be."""
    try:
        if file.link:
            file.link.unlink(missing_ok=True)
        file.path.unlink(missing_ok=True)
    except OSError as error:
        raise _refuse(file, error) from error


def _refuse(file: StartFile, error: OSError) -> StartError:
    return StartError(
        phrase("the file that starts the program cannot be changed: %(why)s", why=error.strerror),
        str(file.path),
        phrase("start the program by hand, as before"),
    )
