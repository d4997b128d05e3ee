"""What runs the yard of a laptop: the server, the phones' way in beside it, and what needs the
server to be down for a moment, such as putting a backup back.
"""

import shutil
import socket
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from threading import Thread

from fastapi import FastAPI

from qcapp import __version__
from qcapp.cli.lan_listener import END_S, LanListener
from qcapp.cli.listening import build_config, make_server
from qcapp.cli.serve import LOOPBACK, build_server, describe_listening
from qcapp.errors import Clash, QcappError, StoreError
from qcapp.i18n.phrase import phrase
from qcapp.machine.addresses import list_private_addresses
from qcapp.machine.sign_in_start import describe_start
from qcapp.release.place import Choice, ProgramPlace, find_own_place, need_own_place
from qcapp.release.signing import PUBLISHER
from qcapp.release.trial import ANSWER_S, await_answer
from qcapp.settings import Settings, find_lan_folder
from qcapp.store.upkeep.backup import restore
from qcapp.sync.restore_marker import note_restore
from qcapp.usecases.laptop import Network, UpdateState, tell_restored
from qcapp.usecases.open_store import open_store
from qcapp.usecases.update_program import Update
from qcapp.web.middleware.request_log import start_logging

Told = Callable[[FastAPI], None]


class Runner:
    """A Laptop (usecases/laptop.py). port: of the pages on this machine."""

    def __init__(self, settings: Settings, port: int, network: LanListener | None = None) -> None:
        self.settings, self.port = settings, port
        self.address = f"http://{LOOPBACK[0]}:{port}/"
        self.note: str | None = None
        self.update: UpdateState | None = None
        self.publisher = PUBLISHER
        # Whose chosen version is to be started once this one has ended.
        self.chosen: ProgramPlace | None = None
        self.start_file = describe_start(describe_self(port, find_own_place()))
        self.network = network or LanListener(find_lan_folder())
        self._task: Callable[[], None] | None = None
        self._stop: Callable[[], None] = lambda: None

    def run(self, bound: socket.socket, tell: Told) -> None:
        """Serves until stopped from outside, again after each task. tell: called once, before the
        first time. The socket stays open: who asks while the server is down waits a moment.
        """
        start_logging()
        place = find_own_place()
        if place:
            self.note = tell_given_up(place.read_choice())
            Thread(target=prove, args=(place, self.port), name="proof", daemon=True).start()
        is_first = True
        while is_first or self._task:
            self._do_task()
            app = self._build()
            server = make_server(
                build_config(app, timeout_graceful_shutdown=END_S, **describe_listening(None))
            )
            self._stop = partial(setattr, server, "should_exit", True)
            # Before anybody is told: from then on somebody may ask for a task.
            if is_first:
                tell(app)
            is_first = False
            server.run([bound.dup()])

    def _build(self) -> FastAPI:
        app = build_server(self.settings, 0, None)
        app.state.laptop = self
        app.state.beside = lambda: self.network.running_beside(app)
        return app

    def _do_task(self) -> None:
        task, self._task = self._task, None
        try:
            if task:
                task()
        except QcappError as error:
            self.note = str(error)

    def describe_network(self) -> Network | None:
        return self.network.describe(datetime.now(UTC))

    def list_addresses(self) -> list[str]:
        return list_private_addresses()

    def open_network(self, address: str) -> None:
        self.network.choose(address)

    def list_keys(self) -> list[Path]:
        key = self.settings.key_file.expanduser()
        return [*([key] if key.is_file() else []), *self.network.list_keys()]

    def restore(self, file: Path, by: str) -> None:
        self._task = partial(self._restore, file, by)
        self._stop()

    def _restore(self, file: Path, by: str) -> None:
        now = datetime.now(UTC)
        done = restore(self.settings.database_url, file, now=now)
        with closing(open_store(self.settings)) as store:
            note_restore(store, by=by, now=now)
        self.note = tell_restored(done.found.seq, done.kept, now)

    def begin_update(self, file: Path, name: str) -> None:
        place = need_own_place()
        if self.update and not self.update.is_over:
            raise Clash(phrase("an update is under way"), self.update.file, phrase("wait for it"))
        self.update = UpdateState(name, phrase("The file and its signature are looked at."))
        Thread(target=self._update, args=(place, file, name), name="update", daemon=True).start()

    def _update(self, place: ProgramPlace, file: Path, name: str) -> None:
        def tell(step: str) -> None:
            self.update = UpdateState(name, step)

        try:
            update = Update(place, self.settings, __version__, self.publisher, tell)
            manifest = update.bring(file, datetime.now(UTC))
        except (QcappError, OSError) as error:
            problem = error if isinstance(error, QcappError) else as_problem(error)
            self.update = UpdateState(name, "", problem, is_over=True)
        else:
            tell(phrase("Version %(version)s starts now.", version=manifest.version))
            self.chosen = place
            self._stop()
        finally:
            shutil.rmtree(file.parent, ignore_errors=True)


def prove(place: ProgramPlace, port: int) -> None:
    """Once this version answers, it is the one that later starts take without watching."""
    if await_answer(port, __version__, lambda: True, ANSWER_S):
        place.prove(Path(sys.executable))


def tell_given_up(choice: Choice) -> str | None:
    """What the page says of a version that failed."""
    if not choice.failed:
        return None
    return phrase(
        "The new version did not start with the yard's records (%(why)s). This one runs again, "
        "and the records are as they were. Tell who publishes the program.",
        why=choice.failed,
    )


def as_problem(error: OSError) -> QcappError:
    return StoreError(
        phrase("the update could not be written: %(why)s", why=error.strerror),
        str(error.filename or ""),
        phrase("make room and try again; nothing was changed"),
    )


def describe_self(port: int, place: ProgramPlace | None) -> list[str]:
    """The command that starts this program again, by whole paths: the unzipped one, which starts
    the chosen version, because a version's own folder goes with a later update.
    """
    own = [str(place.find_entry(""))] if place else [sys.executable, "-m", "qcapp"]
    return [*own, "start", "--no-browser", "--port", str(port)]
