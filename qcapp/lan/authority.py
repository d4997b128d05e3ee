"""The yard's own certificate authority, which can vouch for private addresses and one name only.

Phones that install it trust whatever it signs, so it is tied down where the phone checks
it: critical name constraints (RFC 5280, 4.2.1.10) permit the chosen private ranges and one
name, no authority below it. Who steals its key can pretend to be a machine in such a
network, and nothing on the internet. It is made once; a new one means that every phone
installs again, so it is never renewed by itself.
"""

import hashlib
import ipaddress
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from qcapp.errors import BadInput, StartError

# RFC 1918, and this machine itself for trials.
PRIVATE = tuple(
    ipaddress.IPv4Network(text) for text in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16")
)
LOOPBACK = ipaddress.IPv4Network("127.0.0.0/8")
AUTHORITY_DAYS = 3650
# Phones and laptops with slow clocks must not find a certificate that begins tomorrow.
EARLY = timedelta(days=2)
NAME = re.compile(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)+")
PEM_BLOCK = re.compile(r"-----BEGIN ([A-Z ]+)-----.*?-----END \1-----", re.DOTALL)


@dataclass(frozen=True)
class Authority:
    """A key and its self-signed certificate."""

    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate

    @property
    def made_at(self) -> datetime:
        return self.certificate.not_valid_before_utc + EARLY

    @property
    def ranges(self) -> tuple[ipaddress.IPv4Network, ...]:
        return tuple(self._permitted(x509.IPAddress))

    @property
    def name(self) -> str:
        return str(self._permitted(x509.DNSName)[0])

    def _permitted(self, kind: type[x509.GeneralName]) -> list[Any]:
        constraints = self.certificate.extensions.get_extension_for_class(
            x509.NameConstraints
        ).value
        return [
            subtree.value
            for subtree in constraints.permitted_subtrees or ()
            if isinstance(subtree, kind)
        ]

    @property
    def der(self) -> bytes:
        return self.certificate.public_bytes(serialization.Encoding.DER)

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate as phones show it: 32 pairs of hex digits with colons."""
        return hashlib.sha256(self.der).digest().hex(":").upper()

    def as_pem(self) -> str:
        """Key and certificate: the authority's file, and what its backup sheet carries."""
        return (
            write_key(self.key) + self.certificate.public_bytes(serialization.Encoding.PEM).decode()
        )

    def check_address(self, address: str) -> None:
        """Raises BadInput when phones would not accept this authority's word for the address."""
        if not any(ipaddress.ip_address(address) in one for one in self.ranges):
            raise BadInput(
                "this authority may not vouch for that address",
                f"{address} is outside {list_ranges(self.ranges)}",
                "choose an address inside, or make a new authority in another folder with qcapp "
                "lan init --folder; every phone must then install it",
            )


def list_ranges(ranges: Iterable[ipaddress.IPv4Network]) -> str:
    return ", ".join(str(one) for one in ranges)


def write_key(key: ec.EllipticCurvePrivateKey) -> str:
    shape = (
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    return key.private_bytes(*shape).decode()


def read_address(text: str) -> str:
    """A private IPv4 address, written one way. Raises BadInput."""
    try:
        address = ipaddress.IPv4Address(text)
    except ValueError as error:
        raise BadInput(
            f"{text!r} is not an IPv4 address",
            "address",
            "give the laptop's fixed address, such as 10.42.0.1",
        ) from error
    if not any(address in one for one in (*PRIVATE, LOOPBACK)):
        raise BadInput(
            "this is not an address of a private network",
            str(address),
            f"choose one in {list_ranges(PRIVATE)}",
        )
    return str(address)


def read_ranges(texts: list[str], address: str) -> tuple[ipaddress.IPv4Network, ...]:
    """The chosen ranges, or where none is: all private ones (this machine's, for its own
    address).
    """
    home = ipaddress.IPv4Address(address)
    if not texts:
        return (LOOPBACK,) if home in LOOPBACK else PRIVATE
    try:
        chosen = tuple(ipaddress.IPv4Network(text) for text in texts)
    except ValueError as error:
        raise BadInput(
            f"not a range of addresses: {error}", "--range", "write it as 10.42.0.0/24"
        ) from error
    for one in chosen:
        if not any(one.subnet_of(whole) for whole in (*PRIVATE, LOOPBACK)):
            raise BadInput(
                "this range reaches beyond private networks",
                str(one),
                f"choose ranges inside {list_ranges(PRIVATE)}",
            )
    if not any(home in one for one in chosen):
        raise BadInput(
            "the address is outside the chosen ranges",
            address,
            "add its range, or leave out --range",
        )
    return chosen


def read_name(text: str) -> str:
    """The one host name the authority may vouch for. Raises BadInput."""
    name = text.strip().lower()
    if len(name) > 253 or not NAME.fullmatch(name):
        raise BadInput(f"{text!r} is not a host name with a dot", "--name", "write it as yard.lan")
    if name.endswith(".local"):
        raise BadInput(
            "cheap phones do not find names that end in .local",
            name,
            "choose another ending, such as yard.lan",
        )
    return name


def make_authority(
    *, ranges: Sequence[ipaddress.IPv4Network], name: str, now: datetime
) -> Authority:
    """A fresh authority (P-256), good for ten years from `now`."""
    key = ec.generate_private_key(ec.SECP256R1())
    mark = hashlib.sha256(write_public(key)).hexdigest()[:8].upper()
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"qcapp yard authority {mark}")])
    permitted = [x509.DNSName(name), *(x509.IPAddress(one) for one in ranges)]
    begins = now.replace(microsecond=0) - EARLY
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(make_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    return Authority(key, builder.sign(key, hashes.SHA256()))


def write_public(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )


def make_usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def read_authority(text: str, place: str) -> Authority:
    """From a file or a backup sheet: other lines around the two blocks do not matter. Raises
    StartError.
    """
    blocks = {found[1]: found[0].encode() for found in PEM_BLOCK.finditer(text)}
    try:
        key = serialization.load_pem_private_key(blocks["PRIVATE KEY"], password=None)
        if not isinstance(key, ec.EllipticCurvePrivateKey):
            raise TypeError("no key on a curve")
        authority = Authority(key, x509.load_pem_x509_certificate(blocks["CERTIFICATE"]))
        is_whole = bool(authority.ranges and authority.name)
    except (KeyError, IndexError, ValueError, TypeError, x509.ExtensionNotFound) as error:
        raise StartError(
            "the authority in this file is not complete",
            place,
            "restore it from the backup sheet: qcapp lan init --restore FILE",
        ) from error
    if not is_whole or authority.certificate.public_key() != key.public_key():
        raise StartError(
            "the key and the certificate of the authority do not belong together",
            place,
            "copy the backup sheet again, with both blocks complete",
        )
    return authority
