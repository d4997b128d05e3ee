"""Where people reach this server, and what may stand in a link or a QR code."""

import ipaddress
from dataclasses import dataclass
from urllib.parse import urlsplit

from fastapi import Request


@dataclass(frozen=True)
class Reach:
    """address: ends with /. is_here_only: no other machine reaches it (a phone on a USB cable may).
    is_named: whoever started the server gave it; else it is what this request called the server.
    """

    address: str
    is_here_only: bool
    is_named: bool

    def link(self, path: str) -> str | None:
        """The whole address of a path that somebody is to open elsewhere. None where nobody could:
        an address of this machine alone is given away only when the server was started with it.
        """
        return None if self.is_here_only and not self.is_named else f"{self.address}{path}"


def find_reach(request: Request) -> Reach:
    """A request's own word for the address may be a stranger's, so what was given at the start goes
    first.
    """
    named: str | None = request.app.state.address
    address = named or str(request.base_url)
    return Reach(address, is_loopback(urlsplit(address).hostname or ""), named is not None)


def is_loopback(host: str) -> bool:
    """Whether a name or an IP address means the machine on which it is said."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
