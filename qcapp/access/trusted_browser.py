"""A browser in which an account signed in before is told from a stranger's by a cookie.

Wrong guesses of strangers would else keep an account's owner out. After OWASP's "Slow Down Online
Guessing Attacks with Device Cookies" (owasp.org/www-community): a trusted browser has a count of
its own for each account, and all others share one. The cookie opens nothing; it says which count a
try belongs to.
"""

from datetime import datetime, timedelta

from qcapp.access.attempts import MAX_TRIES, read_count
from qcapp.access.secret import hash_token, make_token
from qcapp.access.source import read_source
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import trusted_browsers
from qcapp.store.timestamps import format_timestamp

LIFE = timedelta(days=180)
MOST = 20


def list_counts(
    store: Store, code: str, *, browser: str | None, address: str, now: datetime
) -> dict[str, str]:
    """The counts that a try to sign in belongs to: {kind of MAX_TRIES: whose}.

    A known browser whose tries are used up is a stranger's: whoever got hold of its cookie must not
    be able to keep its owner out.
    """
    if browser and _is_trusted(store, browser, code, now):
        whose = f"{hash_token(browser)} {code}"
        if read_count(store, "browser", whose) < MAX_TRIES["browser"]:
            return {"browser": whose}
    source = read_source(address)
    return {"account from address": f"{code} {source}", "account": code, "address": source}


def _is_trusted(store: Store, browser: str, code: str, now: datetime) -> bool:
    made_after = format_timestamp(now - LIFE)
    with store.reading() as connection:
        return trusted_browsers.is_trusted(
            connection, hash_token(browser), code, made_after=made_after
        )


def trust(connection: Connection, code: str, browser: str | None, now: datetime) -> str:
    """The browser's token from now on: its old one, when it is some account's. One that nobody
    here made may have been planted by a stranger, who knows it.
    """
    is_ours = browser and trusted_browsers.is_known(connection, hash_token(browser))
    token = browser if browser and is_ours else make_token()
    trusted_browsers.trust_browser(
        connection, hash_token(token), code, now=format_timestamp(now), most=MOST
    )
    return token
