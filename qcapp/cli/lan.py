"""Commands of a yard without internet: makes its own authority, moves it to another address."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from qcapp.cli.lan_phones import list_devices_seen, write_phones
from qcapp.cli.options import AuthorityFolder
from qcapp.errors import BadInput, StartError
from qcapp.lan.authority import make_authority, read_address, read_authority, read_name, read_ranges
from qcapp.lan.clock import refuse_wrong_clock
from qcapp.lan.folder import Lan, create_lan, move_lan, open_lan
from qcapp.lan.origin import BOOTSTRAP_PORT, EXPLANATION, PORT, Origin, is_here, make_origin
from qcapp.lan.sheet import write_sheet
from qcapp.settings import Settings, find_lan_folder


def init(
    address: Annotated[
        str,
        typer.Option(help="the laptop's fixed address in the yard's network, such as 10.42.0.1"),
    ],
    name: Annotated[
        str | None, typer.Option(help="the one host name it may vouch for (yard.lan)")
    ] = None,
    port: Annotated[int, typer.Option(help="port of the app, https")] = PORT,
    bootstrap_port: Annotated[
        int, typer.Option(help="port of the page with the certificate, plain http")
    ] = BOOTSTRAP_PORT,
    ranges: Annotated[
        list[str] | None,
        typer.Option(
            "--range", help="private addresses it may vouch for; may be repeated (all private ones)"
        ),
    ] = None,
    restore: Annotated[
        Path | None, typer.Option(help="backup sheet of an earlier authority, instead of a new one")
    ] = None,
    folder: AuthorityFolder = None,
) -> None:
    """Makes the yard's own certificate authority, once, and shows its backup sheet."""
    now = datetime.now(UTC)
    refuse_wrong_clock(now)
    host = read_address(address)
    origin = make_origin(host=host, port=port, bootstrap_port=bootstrap_port)
    if restore:
        if name or ranges:
            raise BadInput(
                "the name and the ranges of a restored authority come from its certificate",
                "--restore",
                "leave out --name and --range",
            )
        authority = read_authority(_read_text(restore), str(restore))
    else:
        authority = make_authority(
            ranges=read_ranges(ranges or [], host), name=read_name(name or "yard.lan"), now=now
        )
    made = create_lan(folder or find_lan_folder(), authority=authority, origin=origin, now=now)
    if not restore:
        print(write_sheet(made))
    here = "" if is_here(host) else f" once this machine has the address {host}"
    print(
        f"{made.folder} is ready for {origin.url}; start with qcapp serve --lan{here}", flush=True
    )


def _read_text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(
            f"the file cannot be read: {error}", str(path), "give the backup sheet as a text file"
        ) from error


def move(
    to: Annotated[str, typer.Option(help="the new address of the laptop")],
    port: Annotated[int | None, typer.Option(help="new port of the app (as before)")] = None,
    bootstrap_port: Annotated[
        int | None, typer.Option(help="new port of the page with the certificate (as before)")
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="do it; without this the command only explains")
    ] = False,
    folder: AuthorityFolder = None,
) -> None:
    """Explains what a new address means for phones; with --yes changes to it."""
    lan = open_lan(folder or find_lan_folder())
    origin = make_origin(
        host=read_address(to),
        port=port or lan.origin.port,
        bootstrap_port=bootstrap_port or lan.origin.bootstrap_port,
    )
    lan.authority.check_address(origin.host)
    if origin == lan.origin:
        raise BadInput(
            "phones already know the server under this origin",
            origin.url,
            "name another address or port",
        )
    if not yes:
        print(_explain_move(lan, origin), flush=True)
        raise StartError(
            "nothing was moved",
            lan.origin.url,
            "when every phone has sent, run the command again with --yes",
        )
    move_lan(lan, origin=origin, now=datetime.now(UTC))
    print(
        f"moved to {origin.url}; phones open {origin.bootstrap_url} or that address once and join "
        "again"
    )


def _explain_move(lan: Lan, origin: Origin) -> str:
    lines = [
        f"{lan.origin.url} -> {origin.url}",
        "",
        EXPLANATION,
        "",
        *write_phones(list_devices_seen(Settings())),
    ]
    return "\n".join(lines)
