"""A browser in which an account signed in before is told from a stranger's by a cookie.

Wrong guesses of strangers would else keep an account's owner out. After OWASP's "Slow Down Online
Guessing Attacks with Device Cookies" (owasp.org/www-community): a trusted browser has a count of
its own for each account, and all others share one. The cookie opens nothing; it says which count a
try belongs to.
"""

import ipaddress
from datetime import datetime, timedelta

from qcapp.access.secret import hash_token, make_token
from qcapp.store.engine import Connection
from qcapp.store.registry import trusted_browsers
from qcapp.store.timestamps import format_timestamp

LIFE = timedelta(days=180)
MOST = 20


def list_counts(
    connection: Connection, code: str, *, browser: str | None, address: str, now: datetime
) -> dict[str, str]:
    """The counts that a try to sign in belongs to: {kind of MAX_TRIES: whose}."""
    if browser and trusted_browsers.is_trusted(
        connection, hash_token(browser), code, made_after=format_timestamp(now - LIFE)
    ):
        return {"browser": f"{hash_token(browser)} {code}"}
    source = read_source(address)
    return {"account from address": f"{code} {source}", "account": code, "address": source}


def trust(connection: Connection, code: str, browser: str | None, now: datetime) -> str:
    """The browser's token from now on: its old one, when it has one that is some account's."""
    token = browser if browser and _is_ours(browser) else make_token()
    trusted_browsers.trust_browser(
        connection, hash_token(token), code, now=format_timestamp(now), most=MOST
    )
    return token


def read_source(address: str) -> str:
    """A host with IPv6 has at least 2^64 addresses: all of its network are one source."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if found.version == 4:
        return str(found)
    return str(ipaddress.ip_network((found, 64), strict=False))


def _is_ours(token: str) -> bool:
    # Not what a stranger planted: a token of ours has this shape, and a planted one of this shape
    # gains its planter a count of his own that still ends after a few tries.
    return len(token) == len(make_token()) and token.isascii()
