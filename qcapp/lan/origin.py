"""The origin (scheme, host, port) is the phones' data: under another one the app and its unsent
work are not found.

So it is chosen once, kept in a file, and changed only by `qcapp lan move`.
"""

import json
import socket
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from qcapp.errors import BadInput, Clash, StartError

PORT, BOOTSTRAP_PORT = 8443, 8080
WAYS_OUT = (
    "restore the old address, or let every phone send first, "
    "or export its records as a file; only then"
)
EXPLANATION = """\
A phone keeps its app and its unsent records under the server's address. After the move
it does not find them at the new address; they stay on the phone under the old one.

  1. Let every phone send first: its unsent count below must be 0 and its last contact recent.
  2. Or restore the old address instead of moving.
  3. If a phone cannot send any more, export its records as a file on the phone, import it here.

After the move each phone opens the new address once, installs the app again and joins again."""


@dataclass(frozen=True)
class Origin:
    """Always https. bootstrap_port: where the plain-http page with the certificate is."""

    host: str
    port: int = PORT
    bootstrap_port: int = BOOTSTRAP_PORT

    @property
    def netloc(self) -> str:
        return self.host if self.port == 443 else f"{self.host}:{self.port}"

    @property
    def url(self) -> str:
        return f"https://{self.netloc}"

    @property
    def bootstrap_url(self) -> str:
        return (
            f"http://{self.host}{'' if self.bootstrap_port == 80 else f':{self.bootstrap_port}'}/"
        )

    def as_json(self) -> str:
        return (
            json.dumps({"origin": self.url, "bootstrap_port": self.bootstrap_port}, indent=1) + "\n"
        )


def make_origin(*, host: str, port: int, bootstrap_port: int) -> Origin:
    for found in (port, bootstrap_port):
        if not 1 <= found <= 65535:
            raise BadInput(
                "a port is a number from 1 to 65535", str(found), "leave it out, or choose another"
            )
    if port == bootstrap_port:
        raise BadInput(
            "the app and the page with the certificate need two ports",
            str(port),
            "choose another for one of them",
        )
    return Origin(host, port, bootstrap_port)


def read_origin(path: Path) -> Origin:
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        parts = urlsplit(kept["origin"])
        return make_origin(
            host=parts.hostname or "", port=parts.port or 443, bootstrap_port=kept["bootstrap_port"]
        )
    except (OSError, ValueError, KeyError, TypeError, BadInput) as error:
        raise StartError(
            "the origin cannot be read",
            str(path),
            "restore the folder from its copy; phones know only this origin",
        ) from error


def refuse_other_origin(kept: Origin, *, host: str | None, port: int | None) -> None:
    """Raises Clash when another host or port is asked for than the phones know."""
    asked = Origin(host or kept.host, port or kept.port, kept.bootstrap_port)
    if asked.url != kept.url:
        raise Clash(
            "phones know this server, and keep their unsent work, under another origin",
            f"{kept.url}, not {asked.url}",
            f"{WAYS_OUT} qcapp lan move --to {asked.host}",
        )


def is_here(host: str) -> bool:
    """Whether this machine has the address now."""
    with socket.socket() as probe:
        try:
            probe.bind((host, 0))
        except OSError:
            return False
    return True


def refuse_absent_address(kept: Origin) -> None:
    """Raises StartError when this machine does not have the origin's address."""
    if not is_here(kept.host):
        raise StartError(
            "this machine does not have the address that phones know",
            kept.host,
            f"switch the hotspot or network on; else {WAYS_OUT} qcapp lan move --to ADDRESS",
        )
