"""The server of a yard without internet: https at its origin, and the page for new phones
beside.
"""

import errno
import socket
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import segno
import uvicorn
from starlette.types import ASGIApp

from qcapp.app import create_app
from qcapp.cli.accounts import welcome_first_lead
from qcapp.errors import StartError
from qcapp.lan.authority import list_ranges
from qcapp.lan.bootstrap import make_bootstrap
from qcapp.lan.clock import refuse_wrong_clock
from qcapp.lan.folder import Lan, open_lan, renew_if_due
from qcapp.lan.leaf import count_days_left
from qcapp.lan.one_origin import OneOrigin
from qcapp.lan.origin import refuse_absent_address, refuse_other_origin
from qcapp.settings import Settings
from qcapp.web.middleware.request_log import start_logging


def serve_lan(settings: Settings, *, folder: Path, host: str | None, port: int | None) -> None:
    """The app over https at the origin, and beside it the plain-http page with the certificate."""
    now = datetime.now(UTC)
    refuse_wrong_clock(now)
    lan = open_lan(folder)
    refuse_other_origin(lan.origin, host=host, port=port)
    refuse_absent_address(lan.origin)
    lan = renew_if_due(lan, now)
    app = create_app(settings)
    app.state.are_backups_daily = True
    picture = f"{app.state.shell.base}phone/icons/icon-192.png"
    bootstrap = make_bootstrap(lan, picture_path=picture, clock=lambda: datetime.now(UTC))
    start_logging()
    with (
        listening(lan.origin.host, lan.origin.port) as main,
        listening(lan.origin.host, lan.origin.bootstrap_port) as beside,
    ):
        print_address(lan, now)
        welcome_first_lead(app.state.store, address=f"{lan.origin.url}/", role="yard_lead")
        serve_both(OneOrigin(app, lan.origin), main, str(lan.server_path), bootstrap, beside)


@contextmanager
def listening(host: str, port: int) -> Iterator[socket.socket]:
    """A bound socket. Raises StartError in our own words; the server's would come as a trace."""
    with closing(socket.socket()) as bound:
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
        yield bound


def print_address(lan: Lan, now: datetime) -> None:
    origin, days = lan.origin, count_days_left(lan.leaf, now) if lan.leaf else 0
    segno.make(origin.bootstrap_url, error="m").terminal(compact=True)
    print(
        f"""
A phone that is new here scans the code above or opens
  {origin.bootstrap_url}
installs the certificate whose SHA-256 is
  {lan.authority.fingerprint}
and goes on to the app and the pages at
  {origin.url}/

It vouches for {list_ranges(lan.authority.ranges)} and {lan.authority.name} only. \
Server certificate: {days} days left.
Stop with Ctrl+C.""",
        flush=True,
    )


def serve_both(
    app: ASGIApp,
    main: socket.socket,
    certificate: str,
    bootstrap: ASGIApp,
    beside: socket.socket,
) -> None:
    """Runs until a signal; the plain-http page lives and ends with the app."""
    plain: dict[str, Any] = {"log_level": "warning", "server_header": False, "proxy_headers": False}
    side = uvicorn.Server(uvicorn.Config(bootstrap, **plain))
    thread = threading.Thread(target=side.run, args=([beside],), daemon=True)
    thread.start()
    try:
        uvicorn.Server(uvicorn.Config(app, ssl_certfile=certificate, **plain)).run([main])
    except KeyboardInterrupt:
        pass
    finally:
        side.should_exit = True
        thread.join(5)
