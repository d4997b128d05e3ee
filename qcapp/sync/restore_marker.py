"""After a restore: what phones sent since the backup was made is asked for again, photos too."""

from datetime import datetime

from sqlalchemy import Connection

from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.registry import facts, invites, sessions
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.audit_trail import note
from qcapp.sync.protocol import Lineage, Position

# Until the log grew on, a phone's position is in a backup's past although photos it sent are gone.
RESTORED_AT = "restored_at"


def note_restore(store: Store, *, by: str, now: datetime) -> int:
    """Makes every phone that saw no later record offer all it has once more.

    Gives the number of the log's last record.

    The line of the trail that says so is the later record: whoever has seen it has been asked.
    Sessions and one-time links end: those that somebody had ended since the backup are good in it.
    """
    with store.writing() as connection:
        seq = log.get_head(connection).seq
        facts.set_fact(connection, RESTORED_AT, str(seq))
        sessions.revoke_sessions(connection, None, format_timestamp(now))
        invites.expire_invites(connection, format_timestamp(now))
        note(
            connection,
            action="backup_restored",
            by=by,
            about={"number": str(seq)},
            now=now,
        )
    return seq


def compare(connection: Connection, have: Position | None) -> Lineage:
    """Whether the log that the phone last saw is this log's past, and none was restored since."""
    if have is None:
        return "ok"
    if have.seq <= int(facts.find_fact(connection, RESTORED_AT) or -1):
        return "diverged"
    return "ok" if log.find_chain(connection, have.seq) == have.chain else "diverged"
