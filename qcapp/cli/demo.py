"""The demo: fills a scratch database with the invented yard and shows it."""

import json
import logging
import socket
from datetime import UTC, datetime
from typing import Annotated

import segno
import typer

from qcapp.access.devices import make_join_code
from qcapp.app import create_app
from qcapp.cli.listening import build_config, listening, run_bound
from qcapp.cli.options import AsJson, Port
from qcapp.cli.progress import Progress, explain_interrupt
from qcapp.cli.yard_place import describe_place
from qcapp.settings import Settings
from qcapp.usecases.fill_demo import give_to_artisan, give_to_buyer, prepare_demo
from qcapp.web.middleware.request_log import start_logging


def demo(
    port: Port = 8000,
    fresh: Annotated[
        bool, typer.Option("--fresh", help="delete the demo's database first")
    ] = False,
    no_serve: Annotated[
        bool, typer.Option("--no-serve", help="fill the database and stop")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Fills a scratch database (demo.db unless QCAPP_DATABASE_URL names one) with an invented yard
    and shows it.
    """
    named = Settings()
    if "database_url" not in named.model_fields_set:
        named = named.model_copy(update={"database_url": "sqlite:///demo.db"})
    now = datetime.now(UTC)
    with explain_interrupt("what is filled in is kept; run the same command to continue"):
        settings, figures = prepare_demo(
            named, fresh=fresh, now=now, progress=None if as_json else Progress()
        )
    if as_json:
        print(json.dumps(figures))
    else:
        print(
            f"{figures['stoves']} stoves in {figures['batches']} batches, {figures['records']} "
            "records"
        )
    if not no_serve:
        serve_demo(settings, port=port, now=now)


def serve_demo(settings: Settings, *, port: int, now: datetime) -> None:
    """Starts the server on this machine and says where each person finds their page."""
    with listening("127.0.0.1", port) as bound:
        _serve_bound(bound, settings, port=port, now=now)


def _serve_bound(bound: socket.socket, settings: Settings, *, port: int, now: datetime) -> None:
    # Named, so that links and codes hold it: whoever starts a demo is told who reaches it.
    base = f"http://127.0.0.1:{port}"
    app = create_app(settings, has_no_passwords=True, address=f"{base}/")
    # The addresses stay in sight; what goes wrong is still told.
    start_logging(logging.WARNING)
    code = make_join_code(
        app.state.store, name="Your phone", minutes=settings.join_minutes, now=now
    )
    buyer = give_to_buyer(app.state.store, settings, now)
    card = give_to_artisan(app.state.store, settings, now)
    address = f"{base}/phone/#join={code}"
    segno.make(address, error="l").terminal(compact=True)
    print(
        f"""
{settings.yard_name}: an invented yard; nobody in it is real. It is kept in
  {describe_place(settings.database_url)}

  inspector  {address}
  trainer    {base}/trainer
  artisan    {base}/c/{card}
  buyer      {base}/s/{buyer}
  yard lead  {base}/batches
  phones     {base}/yard

The code above is the inspector's address; it joins one phone within {settings.join_minutes} \
minutes (join code {code}).
The server listens on this machine only, and asks nobody for a password. \
A phone on a USB cable reaches it with
  adb reverse tcp:{port} tcp:{port}
Stop with Ctrl+C.""",
        flush=True,
    )
    run_bound(build_config(app), bound)
