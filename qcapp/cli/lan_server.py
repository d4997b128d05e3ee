"""The server of a yard without internet: https at its origin, and the page for new phones
beside.
"""

import socket
import threading
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import segno
from starlette.types import ASGIApp

from qcapp.app import create_app
from qcapp.cli.bounded_protocol import BoundedServer, allow_many_files
from qcapp.cli.first_lead import welcome_first_lead
from qcapp.cli.listening import build_config, listening
from qcapp.cli.yard_place import make_key, prepare_place
from qcapp.lan.authority import list_ranges
from qcapp.lan.bootstrap import make_bootstrap
from qcapp.lan.clock import refuse_wrong_clock
from qcapp.lan.folder import Lan, open_lan, renew_if_due
from qcapp.lan.leaf import count_days_left
from qcapp.lan.one_origin import OneOrigin
from qcapp.lan.origin import refuse_absent_address, refuse_other_origin
from qcapp.settings import Settings
from qcapp.web.middleware.request_log import start_logging


def serve_lan(
    settings: Settings,
    *,
    folder: Path,
    host: str | None,
    port: int | None,
    is_new: bool,
    is_new_key: bool,
) -> None:
    """The app over https at the origin, and beside it the plain-http page with the certificate.

    is_new, is_new_key: as --new and --new-key of qcapp serve.
    """
    now = datetime.now(UTC)
    refuse_wrong_clock(now)
    lan = open_lan(folder)
    refuse_other_origin(lan.origin, host=host, port=port)
    refuse_absent_address(lan.origin)
    lan = renew_if_due(lan, now)
    prepare_place(settings, is_new=is_new)
    make_key(settings, is_wanted=is_new_key)
    app = create_app(settings, address=f"{lan.origin.url}/")
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
    plain: dict[str, Any] = {"server_header": False, "proxy_headers": False}
    side = BoundedServer(build_config(bootstrap, **plain))
    allow_many_files()
    thread = threading.Thread(target=side.run, args=([beside],), daemon=True)
    thread.start()
    try:
        BoundedServer(build_config(app, ssl_certfile=certificate, **plain)).run([main])
    except KeyboardInterrupt:
        pass
    finally:
        side.should_exit = True
        thread.join(5)
