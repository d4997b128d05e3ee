"""HTTP with a limit to how long and how often a caller may keep the server waiting.

uvicorn waits for ever for a request that is half sent, and takes connections until the process has
no file left to open: 1,100 of them stopped it.
"""

import asyncio
import contextlib
import ipaddress
import time
from typing import Any

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

# Of one machine. A browser opens six.
MAX_OF_ADDRESS = 32
# Of a proxy, or of this machine itself, behind which all phones of a yard may be.
MAX_OF_PROXY = 400
MAX_CONNECTIONS = 500
# Until a request's headers are whole.
HEADER_S = 10
# A body may be as slow as a bad GPRS link, which brings some thousand bytes a second.
BODY_GRACE_S = 30
BODY_BYTES_A_SECOND = 500
BODY_S = 1800
# An answer that nobody reads.
UNREAD_S = 60
HANDSHAKE_S = 10
CHECK_S = 2
WANTED_FILES = 16_384


class BoundedProtocol(H11Protocol):
    """One connection. Counted from when it is made; looked at every CHECK_S seconds."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._began = self._awaits_since = time.monotonic()
        self._body_bytes = 0
        self._unread_since: float | None = None
        self._check: asyncio.TimerHandle | None = None
        if not self._make_room():
            transport.abort()
            return
        self._look_again()

    def connection_lost(self, exc: Exception | None) -> None:
        if self._check is not None:
            self._check.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        was = self.conn.their_state
        super().data_received(data)
        if self.conn.their_state is not was:
            # Headers are whole, or a body is: the next thing is awaited from now on.
            self._awaits_since, self._body_bytes = time.monotonic(), 0
        self._body_bytes += len(data)

    def on_response_complete(self) -> None:
        super().on_response_complete()
        self._awaits_since, self._body_bytes = time.monotonic(), 0

    def pause_writing(self) -> None:
        self._unread_since = time.monotonic()
        super().pause_writing()

    def resume_writing(self) -> None:
        self._unread_since = None
        super().resume_writing()

    @property
    def is_waiting(self) -> bool:
        """Whether the caller's next byte is awaited."""
        return self.conn.their_state in (h11.IDLE, h11.SEND_BODY)

    def is_too_slow(self, now: float) -> bool:
        waited = now - self._awaits_since
        if self._unread_since is not None and now - self._unread_since > UNREAD_S:
            return True
        if self.conn.their_state is h11.IDLE:
            return waited > HEADER_S
        # Where the server itself is behind, the caller is not to blame.
        if self.conn.their_state is h11.SEND_BODY and not self.flow.read_paused:
            allowed = BODY_GRACE_S + self._body_bytes / BODY_BYTES_A_SECOND
            return waited > min(BODY_S, allowed)
        return False

    def _look_again(self) -> None:
        if self.is_too_slow(time.monotonic()):
            self.transport.abort()
            return
        self._check = self.loop.call_later(CHECK_S, self._look_again)

    def _make_room(self) -> bool:
        """Whether this connection may stay; of too many the one that waited longest goes."""
        others = [one for one in self.connections if isinstance(one, BoundedProtocol)]
        address = self.client[0] if self.client else ""
        same = [one for one in others if one.client and one.client[0] == address]
        most = MAX_OF_PROXY if self._is_proxy(address) else MAX_OF_ADDRESS
        for found, limit in ((same, most), (others, MAX_CONNECTIONS)):
            if len(found) <= limit:
                continue
            waiting = [one for one in found if one is not self and one.is_waiting]
            # Who asks again and again and reads no answer waits for nothing, and keeps a place.
            unread = [one for one in found if one is not self and one._unread_since is not None]
            if not (waiting or unread):
                return False
            oldest = min(waiting or unread, key=lambda one: one._awaits_since)
            self.connections.discard(oldest)
            oldest.transport.abort()
        return True

    def _is_proxy(self, address: str) -> bool:
        believed = self.config.forwarded_allow_ips
        if isinstance(believed, list) and address in believed:
            return True
        with contextlib.suppress(ValueError):
            return ipaddress.ip_address(address).is_loopback
        return False


class BoundedServer(uvicorn.Server):
    """The same for callers who do not even finish greeting each other over https."""

    async def startup(self, sockets: Any = None) -> None:
        loop = asyncio.get_running_loop()
        create_server = loop.create_server

        async def create_bounded(*args: Any, **more: Any) -> asyncio.Server:
            # uvicorn has no setting for it, and the library's own is a minute.
            if more.get("ssl") is not None:
                more["ssl_handshake_timeout"] = HANDSHAKE_S
            return await create_server(*args, **more)

        loop.create_server = create_bounded  # type: ignore[method-assign]
        try:
            await super().startup(sockets)
        finally:
            loop.create_server = create_server  # type: ignore[method-assign]


def allow_many_files() -> None:
    """Lets this process open as many files as it may: each connection is one. Does nothing where
    the system has no such limit.
    """
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        _soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        wanted = WANTED_FILES if hard == resource.RLIM_INFINITY else min(hard, WANTED_FILES)
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
