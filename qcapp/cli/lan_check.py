"""Shows what needs attention before a yard without internet is used or changed."""

import json
from collections.abc import Iterator
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

import typer

from qcapp.cli.lan_phones import PhoneLine, list_devices_seen, write_phones
from qcapp.cli.options import AsJson, AuthorityFolder
from qcapp.lan.clock import find_clock_fault
from qcapp.lan.folder import Lan, open_lan
from qcapp.lan.leaf import RENEW_BELOW_DAYS, count_days_left
from qcapp.lan.origin import is_here
from qcapp.settings import Settings, find_lan_folder
from qcapp.store.timestamps import parse_timestamp

CLOCK_LIMIT_MS = 86_400_000
MIN_AUTHORITY_DAYS = 365


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
    """days: left of the server's certificate, None where there is none."""
    return [
        *_list_clock_faults(lan, phones, now),
        *_list_address_faults(lan),
        *_list_certificate_faults(lan, now, days),
        *_list_file_faults(lan),
    ]


def _list_clock_faults(lan: Lan, phones: list[PhoneLine], now: datetime) -> Iterator[str]:
    seen = [parse_timestamp(phone.last_seen_at) for phone in phones if phone.last_seen_at]
    clock = find_clock_fault(now, lan.authority.made_at, *seen)
    if clock:
        yield f"{clock}: set the clock"
    offsets = [phone.clock_offset_ms for phone in phones if phone.clock_offset_ms is not None]
    if len(offsets) > 1 and (min(offsets) > CLOCK_LIMIT_MS or max(offsets) < -CLOCK_LIMIT_MS):
        yield (
            "every phone's clock differs from this machine's by more than a day: check this "
            "machine's date"
        )


def _list_address_faults(lan: Lan) -> Iterator[str]:
    if not is_here(lan.origin.host):
        yield (
            f"this machine does not have the address {lan.origin.host}: switch the hotspot or "
            "network on, or see qcapp lan move"
        )


def _list_certificate_faults(lan: Lan, now: datetime, days: int | None) -> Iterator[str]:
    if days is None or days < 0:
        yield (
            "the server's certificate is missing or has expired: start the server again, it "
            "makes a new one"
        )
    left = count_days_left(lan.authority.certificate, now)
    if left < MIN_AUTHORITY_DAYS:
        yield (
            f"the authority expires in {left} days: plan a day on which every phone sends, "
            "then installs a new one"
        )


def _list_file_faults(lan: Lan) -> Iterator[str]:
    others = lan.list_open_files()
    if others:
        yield f"others can read {', '.join(map(str, others))}: chmod 600"


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
