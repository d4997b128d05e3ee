"""What of the yard's work waits for somebody: articles held or in rework, buyers' words."""

import json
from collections.abc import Sequence
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, TextClause, func, select, text

from qcapp.inspection.event import BUYERS_KINDS, SERVER_DEVICE
from qcapp.inspection.pieces import LOAD_STAGE, MadeFrom
from qcapp.store.tables import LOG, MADE_FROM, STOVE, WAITING

# Written out, as in its index: a value handed over would not be seen to fit it.
IS_WAITING = text(f"stove.{WAITING}")

# As canonical JSON has it: inside a note a quotation mark would have a backslash before it.
ACCEPTS = '%"answer":"accept"%'


class WaitingArticles(NamedTuple):
    """Articles of a batch at one stage that wait as one kind; since: last inspection of the one
    that waits longest, UTC text; places: how many batches and stages have such, asked for or not.
    """

    batch: str
    stage: str
    articles: int
    since: str
    places: int


class BuyersWord(NamedTuple):
    """What a buyer wrote and nobody replied to. kind: buyer_answer or recheck; at: UTC text."""

    batch: str
    kind: str
    at: str
    body: dict[str, Any]


def list_waiting(
    connection: Connection, disposition: str, *, limit: int, before: str | None = None
) -> list[WaitingArticles]:
    """Of all batches those that wait longest first, so many; only those whose oldest such article
    was inspected before a moment, where one is given. Read from a small index alone.
    """
    since = func.min(STOVE.c.last_at)
    query = (
        select(STOVE.c.batch, STOVE.c.stage, func.count(), since, func.count().over())
        .where(IS_WAITING, STOVE.c.disposition == disposition)
        .group_by(STOVE.c.batch, STOVE.c.stage)
        .order_by(since, STOVE.c.batch, STOVE.c.stage)
        .limit(limit)
    )
    if before is not None:
        query = query.having(since < before)
    return [WaitingArticles(*row) for row in connection.execute(query)]


def list_held_keys(connection: Connection, batch: str) -> list[str]:
    """Of the stoves of a batch that are held, at every stage."""
    return _list_keys(connection, batch, STOVE.c.disposition == "hold", IS_WAITING)


def list_decided_keys(connection: Connection, batch: str) -> list[str]:
    """Of those that the lead decided about while they were held."""
    return _list_keys(connection, batch, STOVE.c.decided_by.is_not(None))


def _list_keys(
    connection: Connection, batch: str, *which: ColumnElement[bool] | TextClause
) -> list[str]:
    query = select(STOVE.c.stove_key).where(STOVE.c.batch == batch, *which)
    return list(connection.execute(query.order_by(STOVE.c.stage, STOVE.c.serial)).scalars())


class Claim(NamedTuple):
    """A stove that names a piece under another serial than its own."""

    link: MadeFrom
    serial: str


def list_claims(connection: Connection, batches: Sequence[str]) -> list[Claim]:
    """Of the pieces that stoves of these batches name: every stove, of any batch, that names one
    of them. Kiln loads are left out: many pieces are in one.
    """
    named = MADE_FROM.join(STOVE, STOVE.c.stove_key == MADE_FROM.c.stove_key)
    is_entered = (MADE_FROM.c.from_serial != STOVE.c.serial) & (MADE_FROM.c.stage != LOAD_STAGE)
    here = select(MADE_FROM.c.from_key).select_from(named)
    here = here.where(is_entered, STOVE.c.batch.in_(batches))
    columns = (MADE_FROM.c[name] for name in MadeFrom._fields)
    query = (
        select(*columns, STOVE.c.serial)
        .select_from(named)
        .where(is_entered, MADE_FROM.c.from_key.in_(here))
        .order_by(MADE_FROM.c.from_key, MADE_FROM.c.stove_key)
    )
    return [Claim(MadeFrom._make(row[:-1]), row[-1]) for row in connection.execute(query)]


def list_open_words(connection: Connection) -> list[BuyersWord]:
    """Questions, refusals and re-checks without a reply, oldest first.

    What a buyer accepted asks for nothing. A reply names the record it answers by its hash.
    """
    words = _list_server_rows(connection, BUYERS_KINDS, LOG.c.raw.not_like(ACCEPTS))
    replies = _list_server_rows(connection, ("reply",)) if words else ()
    answered = {json.loads(row.raw)["body"]["answers"] for row in replies}
    return [
        BuyersWord(row.batch, row.kind, row.received_at, json.loads(row.raw)["body"])
        for row in words
        if row.hash not in answered
    ]


def _list_server_rows(
    connection: Connection, kinds: Sequence[str], *which: ColumnElement[bool]
) -> Sequence[Any]:
    columns = (LOG.c.hash, LOG.c.kind, LOG.c.batch, LOG.c.received_at, LOG.c.raw)
    query = select(*columns).where(
        LOG.c.kind.in_(kinds), LOG.c.device_id == SERVER_DEVICE, LOG.c.state == "counted", *which
    )
    return connection.execute(query.order_by(LOG.c.seq)).all()
