"""The server's own certificate: for its address and the yard's name, renewed while phones need not
know.

397 days, because phones refuse longer ones: Chrome on Android has had ERR_CERT_VALIDITY_TOO_LONG,
Apple caps at 825 (public limits; common practice, a root added by hand is measured to be spared on
desktop Chromium only).
"""

import ipaddress
from datetime import datetime, timedelta

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from qcapp.lan.authority import EARLY, Authority, make_usage, write_key

LEAF_DAYS = 397
RENEW_BELOW_DAYS = 90


def make_leaf(authority: Authority, *, address: str, name: str, now: datetime) -> str:
    """Key and certificate as PEM, for one IPv4 address and one name. Nothing here asks whether
    phones will accept it.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    begins = now.replace(microsecond=0) - EARLY
    ends = min(begins + timedelta(days=LEAF_DAYS), authority.certificate.not_valid_after_utc)
    issuer = x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key())
    builder = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, address)]))
        .issuer_name(authority.certificate.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(ends)
        .add_extension(
            x509.SubjectAlternativeName(
                [x509.IPAddress(ipaddress.ip_address(address)), x509.DNSName(name)]
            ),
            critical=False,
        )
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(make_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(issuer, critical=False)
    )
    signed = builder.sign(authority.key, hashes.SHA256())
    return write_key(key) + signed.public_bytes(serialization.Encoding.PEM).decode()


def read_leaf(text: str) -> x509.Certificate | None:
    """None when the text holds no certificate; phones know only the authority, so the next start
    makes a new one.
    """
    try:
        return x509.load_pem_x509_certificate(text.encode())
    except ValueError:
        return None


def count_days_left(certificate: x509.Certificate, now: datetime) -> int:
    """Whole days; negative when it has ended."""
    return (certificate.not_valid_after_utc - now).days


def is_due(
    leaf: x509.Certificate | None, authority: Authority, *, address: str, now: datetime
) -> bool:
    """Whether a new leaf is needed: none is there, it ends soon, begins later, is for another
    address or of another authority.
    """
    if leaf is None:
        return True
    names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    addresses = {str(found) for found in names.get_values_for_type(x509.IPAddress)}
    if (
        count_days_left(leaf, now) < RENEW_BELOW_DAYS
        or leaf.not_valid_before_utc > now
        or addresses != {address}
    ):
        return True
    try:
        leaf.verify_directly_issued_by(authority.certificate)
    except (InvalidSignature, ValueError, TypeError):
        return True
    return False
