"""A bound socket before anything is said of an address: what is printed can be opened."""

import contextlib
import errno
import socket
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Any

import uvicorn
from starlette.types import ASGIApp

from qcapp.cli.bounded_protocol import BoundedProtocol, BoundedServer, allow_many_files
from qcapp.errors import StartError

# As many as uvicorn lets wait.
BACKLOG = 2048


@contextmanager
def listening(host: str, port: int) -> Iterator[socket.socket]:
    """Raises StartError in our own words; the server's would come as a trace."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with closing(socket.socket(family)) as bound:
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            bound.bind((host, port))
        except OSError as error:
            todo = {
                errno.EADDRINUSE: "stop the program that uses this port (another qcapp?); "
                "phones know only this one",
                errno.EACCES: "ports below 1024 need more rights: run qcapp with them",
            }.get(error.errno or 0, "see that the address and port are free")
            raise StartError(f"cannot listen: {error.strerror}", f"{host}:{port}", todo) from error
        # Taken from now on: another program that asks for this port is refused.
        bound.listen(BACKLOG)
        yield bound


def build_config(app: ASGIApp | str, **more: Any) -> uvicorn.Config:
    """How every server of ours listens: quiet, and bounded in what callers may keep waiting."""
    return uvicorn.Config(app, http=BoundedProtocol, log_level="warning", **more)


def make_server(config: uvicorn.Config) -> BoundedServer:
    """One that may hold as many connections as this process can."""
    allow_many_files()
    return BoundedServer(config)


def run_bound(config: uvicorn.Config, bound: socket.socket) -> None:
    """Serves on the socket until stopped."""
    with contextlib.suppress(KeyboardInterrupt):
        make_server(config).run([bound])
