"""From where somebody calls: what one host may have many of is one source."""

import ipaddress


def read_source(address: str) -> str:
    """A host with IPv6 has at least 2^64 addresses: all of its network are one source.

    An IPv4 caller is the same one however his address is written: a server that listens on both
    sees it inside one of IPv6 (RFC 4291, 2.5.5.2), where all of IPv4 would be a single network;
    6to4 gives each 65,536 networks (RFC 3056).
    """
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv6Address):
        inner = found.ipv4_mapped or found.sixtofour
        return str(inner or ipaddress.ip_network((int(found), 64), strict=False))
    return str(found)
