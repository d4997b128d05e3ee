"""An authority for this machine's own addresses, and its folder, as tests need them."""

import ipaddress
from datetime import UTC, datetime
from pathlib import Path

from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store

from qcapp.lan.authority import Authority, make_authority, read_ranges
from qcapp.lan.folder import Lan, create_lan
from qcapp.lan.origin import Origin

NOW = datetime(2026, 11, 26, 8, 0, tzinfo=UTC)
NAME = "yard.lan"


def make(
    ranges: tuple[str, ...] = ("10.42.0.0/24",), address: str = "10.42.0.1", now: datetime = NOW
) -> Authority:
    return make_authority(ranges=read_ranges(list(ranges), address), name=NAME, now=now)


def make_folder(folder: Path, now: datetime = NOW, **more) -> Lan:
    return create_lan(
        folder, authority=make(now=now), origin=Origin(**{"host": "10.42.0.1", **more}), now=now
    )


def read_certificate(pem: str) -> x509.Certificate:
    return x509.load_pem_x509_certificate(pem.encode())


def verify(authority: Authority, leaf: x509.Certificate, subject: str, at: datetime) -> None:
    """cryptography's own path validation, as a client does it. Raises VerificationError."""
    try:
        wanted = x509.IPAddress(ipaddress.ip_address(subject))
    except ValueError:
        wanted = x509.DNSName(subject)
    trusted = Store([authority.certificate])
    PolicyBuilder().store(trusted).time(at).build_server_verifier(wanted).verify(leaf, [])
