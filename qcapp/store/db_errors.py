"""What a database says when it cannot, as what happened, what to do and when to come again."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import make_url
from sqlalchemy.exc import DatabaseError, DBAPIError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoFreeConnection

from qcapp.errors import StoreError
from qcapp.i18n.phrase import phrase

log = logging.getLogger("qcapp")

# What it means, what to do, when to try again in seconds.
Failure = tuple[str, str, int]
# By a part of what SQLite says.
SQLITE: dict[str, Failure] = {
    "locked": (phrase("the database is busy"), phrase("phones try again by themselves"), 5),
    "full": (
        phrase("the disk is too full for the database"),
        phrase("free disk space; phones keep their work and send it again"),
        60,
    ),
    "disk I/O": (
        phrase("the database cannot be saved on the disk"),
        phrase("check the disk for space and damage; phones keep their work and send it again"),
        60,
    ),
    "readonly": (
        phrase("the database cannot be written to"),
        phrase("make its file and folder writable; phones keep their work and send it again"),
        60,
    ),
    "unable to open": (
        phrase("the database cannot be opened"),
        phrase("check its folder, disk space and permissions; phones keep their work"),
        60,
    ),
    "malformed": (
        phrase("the database is damaged"),
        phrase("stop the server and restore a backup; phones send again what is missing"),
        600,
    ),
    "not a database": (
        phrase("the file is not a database"),
        phrase("stop the server and restore a backup; phones send again what is missing"),
        600,
    ),
}
# By PostgreSQL's SQLSTATE, or by its class: its first two characters (appendix A of its manual).
POSTGRESQL: dict[str, Failure] = {
    "08": (
        phrase("the connection to the database was lost"),
        phrase("the server connects again by itself; phones keep their work and send it again"),
        5,
    ),
    "25006": (
        phrase("the database is read-only"),
        phrase("name the primary server, not a copy; phones keep their work"),
        60,
    ),
    "28": (
        phrase("the database refuses this server's sign-in"),
        phrase("check user and password in QCAPP_DATABASE_URL; phones keep their work"),
        60,
    ),
    "3D": (
        phrase("there is no such database"),
        phrase("make it with createdb, or check QCAPP_DATABASE_URL; phones keep their work"),
        60,
    ),
    "40": (
        phrase("two changes were made at the same moment"),
        phrase("the phone tries again by itself"),
        5,
    ),
    "42501": (
        phrase("the database does not allow this"),
        phrase("make this user the owner of the database; phones keep their work"),
        60,
    ),
    "53100": (
        phrase("the disk is too full for the database"),
        phrase("free disk space; phones keep their work and send it again"),
        60,
    ),
    "53": (
        phrase("the database accepts no more connections"),
        phrase("start fewer workers, or allow more connections; phones try again"),
        10,
    ),
    "55P03": (
        phrase("many phones are sending at once, and the server is slow"),
        phrase("the phone tries again by itself"),
        5,
    ),
    "57": (
        phrase("the database was stopped or is starting"),
        phrase("phones keep their work and try again by themselves"),
        10,
    ),
    "58": (
        phrase("the database cannot be saved on the disk"),
        phrase("check the disk for space and damage; phones keep their work and send it again"),
        60,
    ),
    "XX001": (
        phrase("the database is damaged"),
        phrase("stop the server and restore a backup; phones send again what is missing"),
        600,
    ),
    "XX002": (
        phrase("the database is damaged"),
        phrase("stop the server and restore a backup; phones send again what is missing"),
        600,
    ),
}
# libpq gives no SQLSTATE for a connection that never came about, only words.
NEVER_CONNECTED = {
    "does not exist": "3D",
    "authentication failed": "28",
    "no password supplied": "28",
    "too many": "53",
    "starting up": "57",
}
UNKNOWN: Failure = (
    phrase("the database refused the change"),
    phrase("see the server's log; phones keep their work"),
    60,
)


@contextmanager
def translated(url: str) -> Iterator[None]:
    """Disk full, read-only, locked for too long, connection lost, damaged: says what to do."""
    try:
        yield
    except NoFreeConnection as error:
        raise _build_error(url, POSTGRESQL["55P03"]) from error
    except DBAPIError as error:
        found = _find_sqlite(error) if url.startswith("sqlite") else _find_postgresql(error)
        if found is None:
            raise
        raise _build_error(url, found) from error


def get_short_name(url: str) -> str:
    """A phone is told which file or database, not on which machine, nor a password."""
    if url.startswith("sqlite"):
        return url.rsplit("/", 1)[-1]
    return make_url(url).database or "database"


def _build_error(url: str, failure: Failure) -> StoreError:
    what, todo, retry_after_s = failure
    return StoreError(what, get_short_name(url), todo, retry_after_s=retry_after_s)


def _find_sqlite(error: DBAPIError) -> Failure | None:
    """None for a mistake of the program, which must be seen as such."""
    reason, known = _read_reason(error), None
    if isinstance(error, DatabaseError):
        known = next((failure for part, failure in SQLITE.items() if part in reason), None)
    if known is None and not _is_foreseen(error):
        return None
    what, todo, retry_after_s = known or UNKNOWN
    return phrase("%(what)s: %(reason)s", what=what, reason=reason), todo, retry_after_s


def _find_postgresql(error: DBAPIError) -> Failure | None:
    """None for a mistake of the program, which must be seen as such."""
    reason = _read_reason(error)
    state = getattr(error.orig, "sqlstate", None) or ""
    if not state and _is_foreseen(error):
        state = next((state for part, state in NEVER_CONNECTED.items() if part in reason), "08")
    known = POSTGRESQL.get(state) or POSTGRESQL.get(state[:2])
    if known is None and not _is_foreseen(error):
        return None
    # The reason names machine and user: for the log, not for a phone.
    log.warning("the database said: %s", reason)
    return known or UNKNOWN


def _is_foreseen(error: DBAPIError) -> bool:
    return isinstance(error, OperationalError | InterfaceError)


def _read_reason(error: DBAPIError) -> str:
    return " ".join(str(error.orig).split())
