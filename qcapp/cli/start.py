"""The yard by a double click: a server on this machine, and its page in the browser."""

import contextlib
import http.client
import json
import sys
import threading
import webbrowser
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer
from fastapi import FastAPI

from qcapp.cli.listening import listening
from qcapp.cli.options import Port
from qcapp.cli.runner import Runner
from qcapp.cli.serve import LOOPBACK
from qcapp.cli.yard_place import prepare_place
from qcapp.errors import QcappError
from qcapp.release.launch import run_watched
from qcapp.settings import Settings
from qcapp.store.upkeep.backup import get_sqlite_path
from qcapp.store.upkeep.put_back import put_back
from qcapp.usecases.laptop import Network, has_lead

# What a phone is told before it has joined (sync/reference.py).
OF_A_GREETING = {"protocol", "server_id", "server_time", "head", "reference_tag"}
ANSWER_S = 3
MAX_ANSWER_BYTES = 100_000


def start(
    port: Port = 8000,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="print the address and open no browser")
    ] = False,
) -> None:
    """Starts the server on this machine and opens its page in the browser."""
    with window_kept_open():
        base = f"http://{LOOPBACK[0]}:{port}/"
        if is_running(port):
            print(f"qcapp is running already: its page is {base}", flush=True)
            show_page(f"{base}laptop", is_wanted=not no_browser)
            return
        settings = Settings()
        with listening(LOOPBACK[0], port) as bound:
            prepare_place(settings, is_new=False)
            runner = Runner(settings, port)

            def tell(app: FastAPI) -> None:
                is_led = has_lead(app.state.store)
                page = f"{base}laptop" if is_led else f"{base}laptop/first"
                print(describe(page, runner.describe_network(), is_led=is_led), flush=True)
                # It waits in the socket's queue until the server takes it.
                show_page(page, is_wanted=not no_browser)

            with contextlib.suppress(KeyboardInterrupt):
                runner.run(bound, tell)
        if runner.chosen:
            words = ["start", "--port", str(port), *(["--no-browser"] if no_browser else [])]
            sys.exit(run_watched(runner.chosen, words, put_records_back))


def put_records_back(copy: str) -> None:
    """After a version that failed."""
    records = get_sqlite_path(Settings().database_url)
    kept = put_back(records, Path(copy), datetime.now(UTC))
    if kept:
        print(f"The records are as they were; what the new version made of them is {kept}")


def describe(page: str, network: Network | None, *, is_led: bool) -> str:
    """What the window says. page: the one that is opened; is_led: there is a yard lead."""
    first = "" if is_led else "There is no yard lead yet: the page below asks who it is.\n"
    phones = (
        f"Phones reach it at {network.address} while this machine has that address."
        if network
        else "No phone reaches it yet, but one on a USB cable. That page lets phones in."
    )
    return f"""{first}
The page of this laptop:  {page}

Only this machine reaches that page. {phones}

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
