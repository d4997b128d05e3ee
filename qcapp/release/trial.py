"""A new version started beside the running one, on a port of this machine alone and with a copy of
the records: only one that answers with its own version is chosen.
"""

import http.client
import json
import os
import socket
import subprocess
import time
from collections.abc import Callable, Mapping
from pathlib import Path

from qcapp.errors import StartError
from qcapp.i18n.phrase import phrase

LOOPBACK = "127.0.0.1"
VERSION_PATH = "/laptop/version"
# A slow laptop unpacks nothing any more, but its first start reads the program from the disk.
ANSWER_S = 120
LOOK_EVERY_S = 0.2
TOLD_BYTES = 600
MAX_ANSWER_BYTES = 10_000


def try_program(
    entry: Path, version: str, surroundings: Mapping[str, str], *, seconds: float = ANSWER_S
) -> None:
    """Raises StartError, with what the program said, when it ends or does not answer in time.

    surroundings: environment that names the copy of the records.
    """
    port = find_free_port()
    log = entry.parent / ".trial.log"
    command = [str(entry), "serve", "--port", str(port)]
    try:
        with log.open("wb") as output:
            process = subprocess.Popen(  # noqa: S603 - its files were signed
                command,
                env=clear_surroundings({**os.environ, **surroundings}),
                stdout=output,
                stderr=output,
                stdin=subprocess.DEVNULL,
                cwd=entry.parent,
            )
        try:
            is_answering = await_answer(port, version, lambda: process.poll() is None, seconds)
        finally:
            end_program(process)
        if not is_answering:
            said = log.read_bytes()[-TOLD_BYTES:].decode("utf-8", "replace").strip()
            raise StartError(
                phrase("the new version did not answer: %(said)s", said=said or "..."),
                version,
                phrase("the old one goes on; tell who publishes the program"),
            )
    except OSError as error:
        raise StartError(
            phrase("the new version cannot be started: %(why)s", why=error.strerror),
            version,
            phrase("the old one goes on; tell who publishes the program"),
        ) from error
    finally:
        log.unlink(missing_ok=True)


def await_answer(port: int, version: str, is_alive: Callable[[], bool], seconds: float) -> bool:
    """Whether what answers first is this version."""
    end = time.monotonic() + seconds
    while time.monotonic() < end and is_alive():
        said = ask_version(port)
        if said is not None:
            return said == version
        time.sleep(LOOK_EVERY_S)
    return False


def ask_version(port: int) -> str | None:
    """What answers on a port of this machine; None when that is nothing or another program."""
    asked = http.client.HTTPConnection(LOOPBACK, port, timeout=5)
    try:
        asked.request("GET", VERSION_PATH)
        said = json.loads(asked.getresponse().read(MAX_ANSWER_BYTES))
        return str(said["version"]) if said.get("program") == "qcapp" else None
    except (OSError, http.client.HTTPException, ValueError, KeyError, AttributeError, TypeError):
        return None
    finally:
        asked.close()


def find_free_port() -> int:
    with socket.socket() as free:
        free.bind((LOOPBACK, 0))
        return int(free.getsockname()[1])


def end_program(process: "subprocess.Popen[bytes]") -> None:
    process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def clear_surroundings(given: Mapping[str, str]) -> dict[str, str]:
    """A folder's program that starts another one must not pass its own unpacked place on
    (PyInstaller, "Launching external programs").
    """
    kept = {name: value for name, value in given.items() if not name.startswith("_PYI_")}
    return {**kept, "PYINSTALLER_RESET_ENVIRONMENT": "1"}
