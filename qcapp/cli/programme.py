"""The command that starts one server for several yards."""

from pathlib import Path
from typing import Annotated

import typer

from qcapp.cli.first_lead import welcome_first_lead
from qcapp.cli.listening import listening
from qcapp.cli.options import Host, Port, Proxy
from qcapp.cli.serve import LOOPBACK, refuse_open_address, run_server
from qcapp.cli.yard_place import describe_place
from qcapp.programme_app import create_programme, list_stores, load_programme
from qcapp.settings import Settings


def serve_programme(
    file: Annotated[
        Path,
        typer.Argument(
            help="YAML with the programme's and the yards' addresses; the guide shows one"
        ),
    ],
    host: Host = LOOPBACK[0],
    port: Port = 8000,
    proxy: Proxy = None,
) -> None:
    """Starts one server for several yards, each under its own host name with its own database."""
    refuse_open_address(host, proxy)
    programme = load_programme(file)
    with listening(host, port) as bound:
        served = create_programme(programme, Settings(), file.resolve().parent)
        stores = list_stores(served)
        for app in served.apps.values():
            app.state.are_backups_daily = True
        for place, role in [
            (programme, "programme_lead"),
            *((yard, "yard_lead") for yard in programme.yards),
        ]:
            kept = describe_place(stores[place.host].url)
            print(f"{place.name}: {place.address}/\n  records in {kept}", flush=True)
            welcome_first_lead(stores[place.host], address=f"{place.address}/", role=role)
        run_server(served, bound, proxy=proxy)
