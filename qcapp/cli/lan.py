"""Commands of a yard without internet: its own authority, its https server, and what to look at
before a change.
"""

import json
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from qcapp.cli.options import AsJson, AuthorityFolder
from qcapp.errors import BadInput, StartError
from qcapp.lan.authority import (
    make_authority,
    read_address,
    read_authority,
    read_name,
    read_ranges,
)
from qcapp.lan.clock import find_clock_fault, refuse_wrong_clock
from qcapp.lan.folder import Lan, create_lan, move_lan, open_lan
from qcapp.lan.leaf import RENEW_BELOW_DAYS, count_days_left
from qcapp.lan.origin import (
    BOOTSTRAP_PORT,
    EXPLANATION,
    PORT,
    is_here,
    make_origin,
)
from qcapp.lan.sheet import write_sheet
from qcapp.settings import Settings, find_lan_folder
from qcapp.store.engine import find_missing
from qcapp.store.registry import devices
from qcapp.store.timestamps import parse_timestamp
from qcapp.usecases.open_store import open_store
from qcapp.web.phone.app_files import load_shell

CLOCK_LIMIT_MS = 86_400_000


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


@dataclass(frozen=True)
class PhoneLine:
    """What a phone said of itself at its last contact."""

    name: str
    last_seen_at: str | None
    unsent: int
    build: str | None
    is_current: bool
    clock_offset_ms: int | None


def list_devices_seen(settings: Settings) -> list[PhoneLine]:
    if find_missing(settings.database_url):
        # Asked before the first start: no phone has been here, and no yard is made by asking.
        return []
    build = load_shell(settings.static_dir).build
    store = open_store(settings)
    with store.reading() as connection:
        rows = devices.list_devices(connection)
    return [
        PhoneLine(
            row.name,
            row.last_seen_at,
            row.unsent,
            row.app_build,
            row.app_build == build,
            row.clock_offset_ms,
        )
        for row in rows
    ]


def check(folder: AuthorityFolder = None, as_json: AsJson = False) -> None:
    """Shows certificates, address, clock and phones; exit code 1 when something needs attention."""
    now = datetime.now(UTC)
    lan, phones = open_lan(folder or find_lan_folder()), list_devices_seen(Settings())
    days = count_days_left(lan.leaf, now) if lan.leaf else None
    faults = list_faults(lan, phones, now, days)
    found = {
        "origin": lan.origin.url,
        "is_here": is_here(lan.origin.host),
        "fingerprint": lan.authority.fingerprint,
        "authority_days_left": count_days_left(lan.authority.certificate, now),
        "certificate_days_left": days,
        "phones": [asdict(phone) for phone in phones],
        "faults": faults,
    }
    print(json.dumps(found) if as_json else write_check(found, phones))
    if faults:
        raise typer.Exit(1)


def list_faults(lan: Lan, phones: list[PhoneLine], now: datetime, days: int | None) -> list[str]:
    seen = [parse_timestamp(phone.last_seen_at) for phone in phones if phone.last_seen_at]
    clock = find_clock_fault(now, lan.authority.made_at, *seen)
    offsets = [phone.clock_offset_ms for phone in phones if phone.clock_offset_ms is not None]
    is_alone = len(offsets) > 1 and (
        min(offsets) > CLOCK_LIMIT_MS or max(offsets) < -CLOCK_LIMIT_MS
    )
    left = count_days_left(lan.authority.certificate, now)
    faults = [
        (clock, f"{clock}: set the clock"),
        (
            is_alone,
            (
                "every phone's clock differs from this machine's by more than a day: check this "
                "machine's date"
            ),
        ),
        (
            not is_here(lan.origin.host),
            (
                f"this machine does not have the address {lan.origin.host}: switch the hotspot or "
                "network on, or see qcapp lan move"
            ),
        ),
        (
            days is None or days < 0,
            (
                "the server's certificate is missing or has expired: start the server again, it "
                "makes a new one"
            ),
        ),
        (
            left < 365,
            (
                f"the authority expires in {left} days: plan a day on which every phone sends, "
                "then installs a new one"
            ),
        ),
        (
            lan.list_open_files(),
            f"others can read {', '.join(map(str, lan.list_open_files()))}: chmod 600",
        ),
    ]
    return [text for is_fault, text in faults if is_fault]


def write_check(found: dict[str, Any], phones: list[PhoneLine]) -> str:
    lines = [
        (
            f"origin       {found['origin']} "
            f"({'address is here' if found['is_here'] else 'address is NOT here'})"
        ),
        f"authority    {found['authority_days_left']} days left, SHA-256 {found['fingerprint']}",
        (
            f"certificate  {found['certificate_days_left']} days left "
            f"(renewed at the start that finds fewer than {RENEW_BELOW_DAYS})"
        ),
        *write_phones(phones),
        *(f"FAULT        {fault}" for fault in found["faults"]),
    ]
    return "\n".join(lines)


def write_phones(phones: list[PhoneLine]) -> list[str]:
    if not phones:
        return ["phones       none has joined"]
    return ["phones", *(f"  {phone.name:16} {_describe(phone)}" for phone in phones)]


def _describe(phone: PhoneLine) -> str:
    if not phone.last_seen_at:
        return "has not sent anything yet"
    offset = phone.clock_offset_ms
    clock = "clock unknown" if offset is None else f"clock {offset / 60_000:+.0f} min"
    build = (
        f"build {phone.build or 'unknown'}{'' if phone.is_current else ' (not the current one)'}"
    )
    last = phone.last_seen_at[:16].replace("T", " ")
    return f"last contact {last} UTC, unsent {phone.unsent}, {build}, {clock}"


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
        print(
            "\n".join(
                [
                    f"{lan.origin.url} -> {origin.url}",
                    "",
                    EXPLANATION,
                    "",
                    *write_phones(list_devices_seen(Settings())),
                ]
            ),
            flush=True,
        )
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
