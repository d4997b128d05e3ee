"""The yard by a double click: a server on this machine, and its page in the browser."""

import contextlib
import http.client
import json
import sys
import threading
import webbrowser
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Annotated

import typer

from qcapp.access.invites import make_first_link
from qcapp.cli.accounts import MINUTES
from qcapp.cli.listening import listening
from qcapp.cli.serve import LOOPBACK, build_server, run_server
from qcapp.cli.yard_place import prepare_place
from qcapp.errors import QcappError
from qcapp.settings import Settings

# What a phone is told before it has joined (sync/reference.py).
OF_A_GREETING = {"protocol", "server_id", "server_time", "head", "reference_tag"}
ANSWER_S = 3
MAX_ANSWER_BYTES = 100_000


def start(
    port: Annotated[int, typer.Option(help="port to listen on")] = 8000,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="print the address and open no browser")
    ] = False,
) -> None:
    """Starts the server on this machine and opens its page in the browser."""
    with window_kept_open():
        base = f"http://{LOOPBACK[0]}:{port}/"
        if is_running(port):
            print(f"qcapp is running already: its page is {base}", flush=True)
            show_page(base, is_wanted=not no_browser)
            return
        settings = Settings()
        with listening(LOOPBACK[0], port) as bound:
            prepare_place(settings, is_new=False)
            server = build_server(settings, 0, None)
            token = make_first_link(server.state.store, role="yard_lead", now=datetime.now(UTC))
            print(describe(base, token), flush=True)
            # It waits in the socket's queue until the server takes it.
            show_page(f"{base}welcome/{token}" if token else base, is_wanted=not no_browser)
            run_server(server, bound, proxy=None)


def describe(base: str, token: str | None) -> str:
    """What the window says. base: ends with /; token: of the first lead's link."""
    first = (
        f"There is no yard lead yet. Open this once, within {MINUTES} minutes:\n"
        f"  {base}welcome/{token}\n"
        if token
        else ""
    )
    return f"""{first}
The pages of the yard:  {base}

Only this machine reaches them, and a phone on a USB cable. For the phones of the yard the server
needs an address of its own:  {base}guide/secure-address

Leave this window open while you work. To stop, close it or press Ctrl+C."""


def is_running(port: int) -> bool:
    """Whether what answers on this port of this machine is this program."""
    asked = http.client.HTTPConnection(LOOPBACK[0], port, timeout=ANSWER_S)
    try:
        asked.request("GET", "/api/sync/hello")
        greeting = json.loads(asked.getresponse().read(MAX_ANSWER_BYTES))
        return isinstance(greeting, dict) and greeting.keys() >= OF_A_GREETING
    except (OSError, http.client.HTTPException, ValueError):
        return False
    finally:
        asked.close()


def show_page(address: str, *, is_wanted: bool) -> None:
    """In a thread of its own: a browser of the terminal would hold up the server."""
    if is_wanted:
        threading.Thread(target=_open, args=(address,), daemon=True).start()


def _open(address: str) -> None:
    if not webbrowser.open(address):
        print(f"No browser could be opened here: open {address}", flush=True)


@contextlib.contextmanager
def window_kept_open() -> Iterator[None]:
    """After an error a window that a double click opened would close before anyone could read."""
    try:
        yield
    except QcappError as error:
        if getattr(sys, "frozen", False) and sys.stdin and sys.stdin.isatty():
            print(f"qcapp: {error}", file=sys.stderr)
            input("Press Enter to close this window. ")
            sys.exit(1)
        raise
