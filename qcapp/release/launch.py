"""What a double click on the unzipped program starts: the version that was chosen last. One that
has not answered yet is watched, and given up when it ends or stays silent.
"""

import os
import subprocess
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from qcapp.release.place import Choice, ProgramPlace
from qcapp.release.trial import ANSWER_S, LOOK_EVERY_S, clear_surroundings, end_program

# The program ended because somebody wanted it to.
WANTED_ENDS = (0, 130, -2, -15)
STARTS_YARD = "start"
# Puts the records back as they were before the version: (path of the copy).
PutBack = Callable[[str], None]


def hand_over(place: ProgramPlace, arguments: Sequence[str], put_back: PutBack) -> int | None:
    """Runs the chosen version with the same arguments. None: that is the unzipped one itself."""
    choice = place.read_choice()
    if not choice.version:
        return None
    if arguments[:1] == [STARTS_YARD] and not choice.is_proven:
        return run_watched(place, arguments, put_back)
    entry = place.find_entry(choice.version)
    # (mypy would take what follows a question for sys.platform for unreachable.)
    if os.name != "nt":
        # It takes this process over: signals, terminal and exit code are its own.
        command = [str(entry), *arguments]
        os.execve(entry, command, clear_surroundings(os.environ))  # noqa: S606 - it was signed
    return _start(entry, arguments).wait()


def run_watched(
    place: ProgramPlace,
    arguments: Sequence[str],
    put_back: PutBack,
    *,
    seconds: float = ANSWER_S,
) -> int:
    """The chosen version until it ends; where it fails before it answered, the one before it."""
    choice = place.read_choice()
    process = _start(place.find_entry(choice.version), arguments)
    try:
        why = _watch(place, process, seconds)
        if why is None:
            return process.wait()
    except KeyboardInterrupt:
        return process.wait()
    end_program(process)
    give_up(place, choice, why, put_back)
    return _start(place.find_entry(choice.before), arguments).wait()


def _watch(place: ProgramPlace, process: "subprocess.Popen[bytes]", seconds: float) -> str | None:
    """Why it is given up; None when it answered, or was ended by who started it."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if place.read_choice().is_proven:
            return None
        code = process.poll()
        if code is not None:
            return None if code in WANTED_ENDS else f"exit code {code}"
        time.sleep(LOOK_EVERY_S)
    return f"no answer in {seconds:.0f} s"


def give_up(place: ProgramPlace, choice: Choice, why: str, put_back: PutBack) -> None:
    """Back to the version before. First the records: the old one could not read newer tables."""
    if choice.copy:
        put_back(choice.copy)
    place.choose(Choice(version=choice.before, failed=f"{choice.version}: {why}"))


def _start(entry: Path, arguments: Sequence[str]) -> "subprocess.Popen[bytes]":
    command = [str(entry), *arguments]
    return subprocess.Popen(command, env=clear_surroundings(os.environ))  # noqa: S603
