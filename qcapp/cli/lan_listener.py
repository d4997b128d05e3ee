"""Phones let in while the server runs on this machine: its https address and the page for new ones,
opened beside the server as soon as the machine has that address.
"""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Iterator
from contextlib import ExitStack, asynccontextmanager, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from fastapi import FastAPI
from starlette.types import ASGIApp

from qcapp.cli.bounded_protocol import BoundedServer
from qcapp.cli.listening import build_config, listening
from qcapp.errors import NotFound, QcappError
from qcapp.lan.authority import make_authority, read_address, read_ranges
from qcapp.lan.bootstrap import make_bootstrap
from qcapp.lan.folder import AUTHORITY, Lan, create_lan, open_lan, renew_if_due
from qcapp.lan.leaf import count_days_left
from qcapp.lan.one_origin import OneOrigin
from qcapp.lan.origin import BOOTSTRAP_PORT, PORT, make_origin, refuse_absent_address
from qcapp.usecases.laptop import Network

# A hotspot may be switched on long after the laptop.
LOOK_EVERY_S = 5
NAME = "yard.lan"
OPEN_S = 30
# A phone in the middle of sending is not waited for longer: it sends again.
END_S = 3


class SideServer(BoundedServer):
    """One of several in a process: the first one alone listens to signals."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


class LanListener:
    """folder: of the authority; ports: of the app and of the page for new phones, where they are
    chosen anew.
    """

    def __init__(self, folder: Path, ports: tuple[int, int] = (PORT, BOOTSTRAP_PORT)) -> None:
        self.folder, self.ports = folder, ports
        self.problem: QcappError | None = None
        self._app: FastAPI | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._bound = ExitStack()
        self._servers: list[tuple[SideServer, asyncio.Task[None]]] = []

    @property
    def is_open(self) -> bool:
        return bool(self._servers)

    def describe(self, now: datetime) -> Network | None:
        try:
            lan = open_lan(self.folder)
        except NotFound:
            return None
        return Network(
            address=f"{lan.origin.url}/",
            first_page=lan.origin.bootstrap_url,
            is_open=self.is_open,
            problem=self.problem,
            days_left=count_days_left(lan.leaf, now) if lan.leaf else None,
            authority_days_left=count_days_left(lan.authority.certificate, now),
        )

    def list_keys(self) -> list[Path]:
        return [self.folder / AUTHORITY] if (self.folder / AUTHORITY).is_file() else []

    def choose(self, address: str) -> None:
        """Makes the authority, once, for this address of this machine, and lets phones in."""
        host, now = read_address(address), datetime.now(UTC)
        port, first_port = self.ports
        origin = make_origin(host=host, port=port, bootstrap_port=first_port)
        refuse_absent_address(origin)
        if not self.folder.exists():
            authority = make_authority(ranges=read_ranges([], host), name=NAME, now=now)
            create_lan(self.folder, authority=authority, origin=origin, now=now)
        if self._loop:
            asyncio.run_coroutine_threadsafe(self._open_if_possible(), self._loop).result(OPEN_S)
        if self.problem:
            raise self.problem

    @asynccontextmanager
    async def running_beside(self, app: FastAPI) -> AsyncIterator[None]:
        """While the app's own server runs: opened where it can be, and looked at again."""
        self._app, self._loop = app, asyncio.get_running_loop()
        await self._open_if_possible()
        watch = asyncio.create_task(self._keep_open())
        try:
            yield
        finally:
            watch.cancel()
            self._app = self._loop = None
            await self._close()

    async def _keep_open(self) -> None:
        while True:
            await asyncio.sleep(LOOK_EVERY_S)
            await self._open_if_possible()

    async def _open_if_possible(self) -> None:
        if self.is_open or self._app is None or not self.folder.is_dir():
            return
        try:
            self._open(self._app)
            self.problem = None
        except QcappError as error:
            self._bound.close()
            self.problem = error

    def _open(self, app: FastAPI) -> None:
        now = datetime.now(UTC)
        lan = open_lan(self.folder)
        refuse_absent_address(lan.origin)
        lan = renew_if_due(lan, now)
        picture = f"{app.state.shell.base}phone/icons/icon-192.png"
        first_page = make_bootstrap(lan, picture_path=picture, clock=lambda: datetime.now(UTC))
        host = lan.origin.host
        main = self._bound.enter_context(listening(host, lan.origin.port))
        beside = self._bound.enter_context(listening(host, lan.origin.bootstrap_port))
        app.state.address = f"{lan.origin.url}/"
        self._serve(OneOrigin(app, lan.origin), main, lan)
        self._serve(first_page, beside, None)

    def _serve(self, app: ASGIApp, bound: object, lan: Lan | None) -> None:
        """lan: whose certificate it shows; None for plain http."""
        secure = {"ssl_certfile": str(lan.server_path)} if lan else {}
        # Its start and end are those of the app's own server.
        plain = {"server_header": False, "proxy_headers": False, "lifespan": "off"}
        config = build_config(app, timeout_graceful_shutdown=END_S, **plain, **secure)
        server = SideServer(config)
        task = asyncio.create_task(server.serve(sockets=[bound]))  # type: ignore[list-item]
        self._servers.append((server, task))

    async def _close(self) -> None:
        for server, _task in self._servers:
            server.should_exit = True
        for _server, task in self._servers:
            with contextlib.suppress(asyncio.CancelledError):
                await task
        self._servers.clear()
        self._bound.close()
