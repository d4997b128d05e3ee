"""The command that serves several yards at once."""

from pathlib import Path
from typing import Annotated

import typer

from qcapp.cli_accounts import welcome_first_lead
from qcapp.errors import BadInput
from qcapp.programme import create_programme, list_stores, load_programme
from qcapp.settings import Settings
from qcapp.web.request_log import start_logging

LOOPBACK = ("127.0.0.1", "::1", "localhost")


def serve_programme(
    file: Annotated[Path, typer.Argument(help="YAML with the programme's and the yards' addresses; the README shows one")],
    host: Annotated[str, typer.Option(help="address to listen on")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="port to listen on")] = 8000,
    open_to_network: Annotated[bool, typer.Option(help="listen beyond this machine without https: passwords can be read on the way")] = False,
) -> None:
    """Starts one server for several yards, each under its own host name with its own database."""
    import uvicorn

    if host not in LOOPBACK and not open_to_network:
        raise BadInput(
            "this address can be reached from other machines, and without https passwords can be read on the way", f"--host {host}",
            "leave it at 127.0.0.1 behind a proxy that speaks https and hands on the Host",
        )
    programme = load_programme(file)
    served = create_programme(programme, Settings(), file.resolve().parent)
    stores = list_stores(served)
    for place, role in [(programme, "programme_lead"), *((yard, "yard_lead") for yard in programme.yards)]:
        print(f"{place.name}: {place.address}/", flush=True)
        welcome_first_lead(stores[place.host], address=f"{place.address}/", role=role)
    start_logging()
    uvicorn.run(served, host=host, port=port, log_level="warning")
