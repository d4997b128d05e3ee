"""Looks for rows that were altered behind the program's back.

The log is held against itself and against the tree over it (audit_tree.py), each record against its
phone's key (audit_signatures.py), the figures against the log (audit_figures.py). What the running
hash and the tree cover is a record's id and hash, and the hash its content. They do not cover when
a record came, by whom it was relayed, nor whether it counts: a person decides that later. Who can
write the database can also make the whole chain and the tree again; only somebody who kept an
earlier checkpoint (each issued summary does, each phone, a programme) can tell. Records cut off the
end leave a log that fits; a phone that saw them says "diverged" at its next contact.
"""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, get_args

from sqlalchemy import Connection, Row, select
from sqlalchemy.exc import DBAPIError

from qcapp.errors import NotFound, QcappError
from qcapp.inspection.event import kept_hash, stove_key
from qcapp.store.chunks import CHUNK_SIZE
from qcapp.store.engine import Store, has_tables
from qcapp.store.log import LogRecord, State, find_chain, get_server_id, link
from qcapp.store.tables import LOG
from qcapp.store.upkeep.audit_figures import Altered, find_altered_figures
from qcapp.store.upkeep.audit_signatures import start_check
from qcapp.store.upkeep.audit_tree import TreeAudit

UNMADE = (ValueError, LookupError, TypeError, AttributeError, QcappError, DBAPIError)
STATES = get_args(State)
NUMBERS = ("seq", "dev_seq", "clock_offset_ms")
# What stands in the log where the content of a record held back does not say it, or says what
# cannot be kept (sync/arrived.py).
WITHOUT = {"kind": "unreadable", "device_id": "unknown", "dev_seq": 0, "batch": None}


@dataclass(frozen=True)
class Audit:
    """records: walked; quarantined: of these, out of the figures; altered: what does not fit.

    signed: records that count and are signed by their phone; unsigned: those of phones that had no
    key then.
    """

    records: int
    quarantined: int
    chain: str
    altered: list[Altered]
    signed: int = 0
    unsigned: int = 0


def audit_store(store: Store) -> Audit:
    """Walks the whole log, then makes every figure again and compares; nothing is changed.

    While it compares, phones wait: it holds the writer's lock and gives back what it wrote.
    """
    with store.reading() as connection:
        if not has_tables(connection):
            raise NotFound(
                "there is no log",
                store.short_name,
                "name the yard's database in QCAPP_DATABASE_URL",
            )
    with store.writing() as connection:
        with _reading_any_text(connection):
            audit = _audit_log(connection)
        audit.altered.extend(_find_altered_figures(connection))
        connection.rollback()
    return audit


def _find_altered_figures(connection: Connection) -> list[Altered]:
    """The same where a record is so broken that nothing can be made of it: that is said too."""
    try:
        return find_altered_figures(connection)
    except UNMADE as error:
        return [Altered("the figures", f"they cannot be made again from this log: {error!r}")]


def _audit_log(connection: Connection) -> Audit:
    chain, expected, quarantined = get_server_id(connection), 1, 0
    altered: list[Altered] = []
    signatures = start_check(connection)
    tree = TreeAudit(connection)
    query = select(LOG).order_by(LOG.c.seq).execution_options(yield_per=CHUNK_SIZE)
    for row in connection.execute(query):
        name = f"record {row.seq}"
        odd = _list_odd_columns(row)
        altered.extend(Altered(name, f"its {column} is of no such type") for column in odd)
        record = LogRecord(**{**row._mapping, **dict.fromkeys(odd, "")})
        altered.extend(_find_unfit_place(record, chain, expected))
        altered.extend(Altered(name, what) for what in _find_unfit_content(record))
        altered.extend(Altered(name, what) for what in _find_unfit_position(connection, record))
        altered.extend(Altered(name, what) for what in signatures.find_unfit(record))
        altered.extend(Altered(name, what) for what in tree.find_unfit_checkpoint(record))
        tree.add(record)
        chain, expected = record.chain, record.seq + 1
        quarantined += record.state != "counted"
    altered.extend(tree.list_unfit_nodes())
    altered.extend(
        Altered(f"phone {device_id}", what)
        for device_id, what in signatures.find_unfit_keys(connection)
    )
    return Audit(expected - 1, quarantined, chain, altered, signatures.signed, signatures.unsigned)


@contextmanager
def _reading_any_text(connection: Connection) -> Iterator[None]:
    """SQLite takes any bytes for a text. Whoever wrote some that are none would else end the walk
    at their record: so they are read as a text, which fits no hash.
    """
    driver = connection.connection.driver_connection
    if not isinstance(driver, sqlite3.Connection):
        yield
        return
    before = driver.text_factory
    driver.text_factory = lambda content: content.decode("utf-8", "replace")
    try:
        yield
    finally:
        driver.text_factory = before


def _list_odd_columns(row: Row[Any]) -> list[str]:
    """Names of columns whose value is of another type than the table says: SQLite keeps it."""
    return [
        name
        for name, value in row._mapping.items()
        if value is not None and not isinstance(value, int if name in NUMBERS else str)
    ]


def _find_unfit_place(record: LogRecord, chain: str, expected: int) -> Iterator[Altered]:
    if record.seq == expected + 1:
        yield Altered(f"record {expected}", "not in the log any more")
    elif record.seq != expected:
        yield Altered(f"records {expected} to {record.seq - 1}", "not in the log any more")
    elif record.chain != link(chain, record.id, record.hash):
        yield Altered(
            f"record {record.seq}", "its running hash does not follow from the record before"
        )


def _find_unfit_content(record: LogRecord) -> Iterator[str]:
    try:
        content = json.loads(record.raw)
    except ValueError:
        yield "its content is no JSON any more"
        return
    if not isinstance(content, dict) or kept_hash(content, record.raw) != record.hash:
        yield "its content is not what its hash says"
        return
    if record.state not in STATES:
        yield f"its state says {record.state}, which none has"
    is_counted = record.state == "counted"
    if is_counted and content.get("hash") != record.hash:
        yield "it counts, but its content is not what the phone sealed"
    # What could only be kept as a text (sync/arrived.py) names its stove inside of it.
    is_text = set(content) == {"unreadable"}
    fitting = (_find_key(content),) if is_counted else (None, _find_key(content))
    if not is_text and record.stove_key not in fitting:
        yield f"its stove says {record.stove_key}, its content another"
    instead = {"id": f"unreadable-{record.hash[:32]}", **WITHOUT}
    for column, without in instead.items():
        kept, said = getattr(record, column), content.get(column)
        if kept != said and (is_counted or not (is_text or kept == without)):
            yield f"its {column} says {kept}, its content {said}"


def _find_key(content: Mapping[str, Any]) -> str | None:
    """Of the stove that a content names; what came from a phone may be of any type."""
    stage, stove = content.get("stage"), content.get("stove")
    if isinstance(stage, str) and isinstance(stove, str):
        return stove_key(stage, stove)
    return None


def _find_unfit_position(connection: Connection, record: LogRecord) -> Iterator[str]:
    """An issued summary names a log position: it lies before and is what the log has there.

    This finds a log whose whole chain was made again: the signed summaries still name the old one.
    """
    if record.kind != "summary" or record.state != "counted":
        return
    position = _find_position(record.raw)
    if position is None:
        yield "it issues a summary, but names no log position"
        return
    seq, chain = position
    if not seq < record.seq or find_chain(connection, seq) != chain:
        yield f"the summary issued here rests on record {seq}, which is another one now"


def _find_position(raw: str) -> tuple[int, str] | None:
    """Number and running hash of the record that a summary rests on."""
    try:
        found = json.loads(raw)["body"]["proof"]["summary"]["rests_on"]
        return int(found["seq"]), found["chain"]
    except (ValueError, KeyError, TypeError):
        return None
