"""The backup sheet: what brings the authority back on another laptop, shown once."""

from qcapp.lan.authority import list_ranges
from qcapp.lan.folder import Lan


def write_sheet(lan: Lan) -> str:
    """Plain text with the authority's key and certificate; `read_authority` reads it as it
    stands.
    """
    authority = lan.authority
    rule = "=" * 72
    return f"""{rule}
BACKUP SHEET of the yard's own certificate authority. Shown once.

Print it or keep it as a file on a memory stick, locked away, apart from this laptop.
Anyone who has it can pretend to be a server at the addresses below; nowhere else.
On another laptop:  qcapp lan init --address {lan.origin.host} --port {lan.origin.port} \
--restore SHEET

address    {lan.origin.url}
vouches    for {list_ranges(authority.ranges)} and {authority.name}
expires    {authority.certificate.not_valid_after_utc:%Y-%m-%d}
SHA-256    {authority.fingerprint}

{authority.as_pem()}{rule}"""
