"""What a database says when it cannot: turned into what happened, what to do, and when to come again."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import make_url
from sqlalchemy.exc import DatabaseError, DBAPIError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoFreeConnection

from qcapp.errors import StoreTrouble

log = logging.getLogger("qcapp")

# What SQLite says: what it means, what to do, when to try again in seconds.
SQLITE = {
    "locked": ("the database is busy", "phones try again by themselves", 5),
    "full": ("there is no room for the database", "free disk space; phones keep their work and send it again", 60),
    "disk I/O": ("the disk does not take the database", "look for room and for damage; phones keep their work and send it again", 60),
    "readonly": ("the database cannot be written", "make its file and folder writable; phones keep their work and send it again", 60),
    "unable to open": ("the database cannot be opened", "look for its folder, room and rights; phones keep their work", 60),
    "malformed": ("the database is damaged", "stop the server and restore a backup; phones send again what is missing", 600),
    "not a database": ("the file is no database", "stop the server and restore a backup; phones send again what is missing", 600),
}
# The same by PostgreSQL's SQLSTATE, the longest beginning that fits (appendix A of its manual).
POSTGRESQL = {
    "08": ("the connection to the database was lost", "it is made again by itself; phones keep their work and send it again", 5),
    "25006": ("the database takes no writers", "name the primary server, not a copy; phones keep their work", 60),
    "28": ("the database does not let this server in", "check user and password in QCAPP_DATABASE_URL; phones keep their work", 60),
    "3D": ("there is no such database", "make it with createdb, or check QCAPP_DATABASE_URL; phones keep their work", 60),
    "40": ("two writers were in each other's way", "the phone tries again by itself", 5),
    "42501": ("the database does not allow this", "make this user the owner of the database; phones keep their work", 60),
    "53100": ("there is no room for the database", "free disk space; phones keep their work and send it again", 60),
    "53": ("the database has no room for one more connection", "start fewer workers, or allow it more; phones try again", 10),
    "55P03": ("many write at once, and the server is behind", "the phone tries again by itself", 5),
    "57": ("the database was stopped or is starting", "phones keep their work and try again by themselves", 10),
    "58": ("the disk does not take the database", "look for room and for damage; phones keep their work and send it again", 60),
    "XX001": ("the database is damaged", "stop the server and restore a backup; phones send again what is missing", 600),
    "XX002": ("the database is damaged", "stop the server and restore a backup; phones send again what is missing", 600),
}
# libpq gives no SQLSTATE for a connection that never came about, only words.
NEVER_CONNECTED = {"does not exist": "3D", "authentication failed": "28", "no password supplied": "28", "too many": "53", "starting up": "57"}
UNKNOWN = ("the database did not take it", "see the server's log; phones keep their work", 60)


@contextmanager
def translated(url: str) -> Iterator[None]:
    """Disk full, read-only, locked for too long, connection lost, damaged: a message that says what to do."""
    try:
        yield
    except NoFreeConnection as trouble:
        what, todo, retry_after_s = POSTGRESQL["55P03"]
        raise StoreTrouble(what, get_short_name(url), todo, retry_after_s=retry_after_s) from trouble
    except DBAPIError as trouble:
        found = _find(url, trouble)
        if found is None:
            raise
        what, todo, retry_after_s = found
        raise StoreTrouble(what, get_short_name(url), todo, retry_after_s=retry_after_s) from trouble


def get_short_name(url: str) -> str:
    """A phone is told which file or database, not on which machine, nor a password."""
    return url.rsplit("/", 1)[-1] if url.startswith("sqlite") else make_url(url).database or "database"


def _find(url: str, trouble: DBAPIError) -> tuple[str, str, int] | None:
    """None for a mistake of the program, which must be seen as such."""
    reason = " ".join(str(trouble.orig).split())
    is_foreseen = isinstance(trouble, OperationalError | InterfaceError)
    if url.startswith("sqlite"):
        known = next((words for sign, words in SQLITE.items() if sign in reason), None) if isinstance(trouble, DatabaseError) else None
        what, todo, retry_after_s = known or UNKNOWN
        return (f"{what}: {reason}", todo, retry_after_s) if known or is_foreseen else None
    state = getattr(trouble.orig, "sqlstate", None) or ""
    if not state and is_foreseen:
        state = next((state for sign, state in NEVER_CONNECTED.items() if sign in reason), "08")
    known = next((POSTGRESQL[state[:length]] for length in (5, 2) if state[:length] in POSTGRESQL), None)
    if known or is_foreseen:
        # The reason names machine and user: for the log, not for a phone.
        log.warning("the database said: %s", reason)
        return known or UNKNOWN
    return None
