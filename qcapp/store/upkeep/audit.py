"""Looks for rows that were altered behind the program's back: the log against itself, the figures against the log.

What the running hash covers is a record's id and hash, and the hash its content. It does not cover
when a record came, by whom it was relayed, nor whether it counts: a person decides that later.
Who can write the database can also make the whole chain again; only somebody who noted an earlier
position (each issued summary does) can tell. Records cut off the end leave a log that fits; a phone
that saw them says "diverged" at its next contact.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import Connection, inspect, select

from qcapp.errors import NotFound, QcappError
from qcapp.inspection.event import canonical, event_hash, stove_key
from qcapp.store.engine import Store
from qcapp.store.log import find_chain, get_server_id, link
from qcapp.store.projections import stove_projection
from qcapp.store.projections.stove_rows import list_figure_rows
from qcapp.store.projections.tallies import Tally
from qcapp.store.tables import Log, Summary

MAX_NAMED = 20
ISSUED_KIND = "summary"
LOG, SUMMARY, TALLY = Log.__table__, Summary.__table__, Tally.__table__


@dataclass(frozen=True)
class Altered:
    """row: which one, in words; what: how it does not fit."""

    row: str
    what: str

    def __str__(self) -> str:
        return f"{self.row}: {self.what}"


@dataclass(frozen=True)
class Audit:
    """records: walked; quarantined: of these, out of the figures; altered: what does not fit."""

    records: int
    quarantined: int
    chain: str
    altered: list[Altered]


def audit_store(store: Store) -> Audit:
    """Walks the whole log, then makes every figure again and compares; nothing is changed.

    While it compares, phones wait: it holds the writer's lock and gives back what it wrote.
    """
    if not inspect(store.engine).has_table("log"):
        raise NotFound(
            "there is no log", store.short_name, "name the yard's database in QCAPP_DATABASE_URL"
        )
    with store.writing() as connection:
        audit = _audit_log(connection)
        if not audit.altered:
            audit.altered.extend(_find_altered_figures(connection))
        connection.get_transaction().rollback()
    return audit


def _audit_log(connection: Connection) -> Audit:
    chain, expected, quarantined, altered = get_server_id(connection), 1, 0, []
    for row in connection.execute(select(LOG).order_by(LOG.c.seq)):
        name = f"record {row.seq}"
        if row.seq != expected:
            missing = (
                f"record {expected}"
                if row.seq == expected + 1
                else f"records {expected} to {row.seq - 1}"
            )
            altered.append(Altered(missing, "not in the log any more"))
        elif row.chain != link(chain, row.id, row.hash):
            altered.append(Altered(name, "its running hash does not follow from the record before"))
        altered.extend(Altered(name, what) for what in _find_unfit_content(row))
        altered.extend(Altered(name, what) for what in _find_unfit_position(connection, row))
        chain, expected = row.chain, row.seq + 1
        quarantined += row.state != "counted"
    return Audit(expected - 1, quarantined, chain, altered)


def _find_unfit_content(row) -> Iterator[str]:
    try:
        content = json.loads(row.raw)
    except ValueError:
        yield "its content is no JSON any more"
        return
    if not isinstance(content, dict) or _hash_of(content, row.raw) != row.hash:
        yield "its content is not what its hash says"
        return
    if row.state == "counted" and content.get("hash") != row.hash:
        yield "it counts, but its content is not what the phone sealed"
    if row.stove_key is not None and row.stove_key != stove_key(
        content.get("stage") or "", content.get("stove") or ""
    ):
        yield f"its stove says {row.stove_key}, its content another"
    for column in ("id", "kind", "device_id", "dev_seq", "batch"):
        if row.state == "counted" and getattr(row, column) != content.get(column):
            yield f"its {column} says {getattr(row, column)}, its content {content.get(column)}"


def _hash_of(content: dict, raw: str) -> str:
    """As on arrival: of the canonical content, or of the text when it has none."""
    try:
        return event_hash(content) if canonical(content).decode() == raw else "not canonical"
    except QcappError:
        return event_hash({"text": raw})


def _find_unfit_position(connection: Connection, row) -> Iterator[str]:
    """An issued summary names a log position: it must lie before and be what the log has there.

    This finds a log whose whole chain was made again: the signed summaries still name the old one.
    """
    if row.kind != ISSUED_KIND or row.state != "counted":
        return
    rests_on = _find_rests_on(row.raw)
    if rests_on is None:
        yield "it issues a summary, but names no log position"
        return
    if (
        not rests_on["seq"] < row.seq
        or find_chain(connection, rests_on["seq"]) != rests_on["chain"]
    ):
        yield f"the summary issued here rests on record {rests_on['seq']}, which is another one now"


def _find_rests_on(raw: str) -> dict | None:
    try:
        found = json.loads(raw)["body"]["proof"]["summary"]["rests_on"]
        return {"seq": int(found["seq"]), "chain": found["chain"]}
    except (ValueError, KeyError, TypeError):
        return None


def _find_altered_figures(connection: Connection) -> list[Altered]:
    kept, kept_issued, kept_sums = (
        list_figure_rows(connection),
        _list_issued(connection),
        _list_tallies(connection),
    )
    stove_projection.rebuild(connection)
    made, made_issued, made_sums = (
        list_figure_rows(connection),
        _list_issued(connection),
        _list_tallies(connection),
    )
    odd = sorted(kept_sums ^ made_sums, key=repr)
    issued = sorted(
        key
        for key in kept_issued.keys() | made_issued.keys()
        if kept_issued.get(key) != made_issued.get(key)
    )
    keys = sorted(key for key in kept.keys() | made.keys() if kept.get(key) != made.get(key))
    found = [
        Altered(
            f"stove {key}",
            "its figures are not those the log gives; qcapp rebuild makes them again",
        )
        for key in keys[:MAX_NAMED]
    ]
    found += [
        Altered(
            f"summary {number} of batch {batch}",
            "its row is not what its record says; qcapp rebuild makes it again",
        )
        for batch, number in issued
    ]
    found += [
        Altered(
            f"the sums of batch {batch}",
            "they are not those the log gives; qcapp rebuild makes them again",
        )
        for batch in sorted({row.batch for row in odd})[:MAX_NAMED]
    ]
    return [
        *found,
        *(
            [Altered(f"{len(keys) - MAX_NAMED} more stoves", "the same")]
            if len(keys) > MAX_NAMED
            else []
        ),
    ]


def _list_issued(connection: Connection) -> dict[tuple[str, int], tuple]:
    return {(row.batch, row.number): tuple(row) for row in connection.execute(select(SUMMARY))}


def _list_tallies(connection: Connection) -> set:
    return set(connection.execute(select(TALLY)).all())
