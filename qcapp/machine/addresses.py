"""Addresses of this machine in private networks, of which phones could reach one."""

import ipaddress
import socket
import struct
import sys

# Asks an interface for its address (Linux, netdevice(7)).
SIOCGIFADDR = 0x8915
MAX_INTERFACE_NAME = 15
PRIVATE = tuple(
    ipaddress.IPv4Network(one) for one in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16")
)
# Nothing is sent there: the system only says from which address it would. (RFC 5737)
ELSEWHERE = ("192.0.2.1", 9)


def list_private_addresses() -> list[str]:
    """IPv4 addresses, the one towards other networks first. Empty without any network."""
    first, found = _find_outward(), {*_list_by_name(), *_list_by_interface()}
    private = sorted(address for address in found if is_private(address) and address != first)
    return [first, *private] if first and is_private(first) else private


def is_private(text: str) -> bool:
    """Whether phones of one yard could use it (RFC 1918)."""
    return any(ipaddress.IPv4Address(text) in one for one in PRIVATE)


def _find_outward() -> str | None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(ELSEWHERE)
        except OSError:
            return None
        return str(probe.getsockname()[0])


def _list_by_name() -> set[str]:
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        return set()
    return {str(one[4][0]) for one in found}


def _list_by_interface() -> set[str]:
    """A hotspot's address is no machine's name; only its interface knows it."""
    if sys.platform != "linux":
        return set()
    import fcntl  # noqa: PLC0415 - Windows has none

    found = set()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        for _number, name in socket.if_nameindex():
            asked = struct.pack("256s", name[:MAX_INTERFACE_NAME].encode())
            try:
                answer = fcntl.ioctl(probe.fileno(), SIOCGIFADDR, asked)
            except OSError:
                continue  # An interface without an address.
            found.add(socket.inet_ntoa(answer[20:24]))
    return found
