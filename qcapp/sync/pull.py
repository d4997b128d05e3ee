"""Records of other phones, which a phone fetches in pages."""

import json

from sqlalchemy import Connection

from qcapp.inspection.event import BENCH_KINDS, SERVER_MADE_KINDS
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.registry import devices
from qcapp.sync.protocol import Position, PullAnswer, PulledEvent

MAX_ROWS = 200
CHAIN_PREFIX = 16
ALL = ":all"


def pull_events(store: Store, *, device_id: str, cursor: str, limit: int) -> PullAnswer:
    """Events of other devices after the cursor ("seq:first 16 hex digits of the chain").

    Of a phone of which there are two copies, its own too, once from the start: each copy then sees
    what the other made; its cursors end with ":all". A cursor that is not in this log's past
    answers lineage "diverged" and the start.
    """
    with store.reading() as connection:
        head = log.get_head(connection)
        device = devices.find_device(connection, device_id)
        is_copied = device is not None and device.copied_number is not None
        if is_copied and not cursor.endswith(ALL):
            cursor = ""
        seq = _find_seq(connection, cursor.removesuffix(ALL))
        if seq is None:
            return PullAnswer(
                lineage="diverged", events=[], cursor="", head=Position(**vars(head)), more=True
            )
        limit = max(1, min(limit, MAX_ROWS))
        # What others answered in a study stays here: a phone that held it could not be blind.
        rows = log.list_after(
            connection,
            seq,
            limit,
            but_device=None if is_copied else device_id,
            but_kinds=(*SERVER_MADE_KINDS, *BENCH_KINDS, "study_answer", "trail"),
        )
        # A full page ends at its last row; a short one has seen everything up to the head.
        more = len(rows) == limit
        end = rows[-1].seq if more else head.seq
        chain = log.find_chain(connection, end) or ""
    return PullAnswer(
        lineage="ok",
        events=[
            PulledEvent(seq=row.seq, state=row.state, event=json.loads(row.raw)) for row in rows
        ],
        cursor=f"{end}:{chain[:CHAIN_PREFIX]}{ALL if is_copied else ''}",
        head=Position(**vars(head)),
        more=more,
    )


def pull_nothing(store: Store) -> PullAnswer:
    """What a phone of the buyer's inspector fetches: records are the yard's, and name makers."""
    with store.reading() as connection:
        head = log.get_head(connection)
    cursor = f"{head.seq}:{head.chain[:CHAIN_PREFIX]}"
    return PullAnswer(
        lineage="ok", events=[], cursor=cursor, head=Position(**vars(head)), more=False
    )


def _find_seq(connection: Connection, cursor: str) -> int | None:
    if not cursor:
        return 0
    number, _, prefix = cursor.partition(":")
    if not number.isascii() or not number.isdigit() or len(number) > 15:
        return None
    chain = log.find_chain(connection, int(number))
    return int(number) if chain and prefix == chain[:CHAIN_PREFIX] else None
