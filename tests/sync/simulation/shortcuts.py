"""Ten ways to make the protocol simpler that look right and lose records.

Each is made in the real server or in the phone's own modules, for the time of a test, to show that
the checks of the fault tests would find it. What a shortcut would keep elsewhere is looked for
there, so that it is caught for what it loses and not for how it is built.
"""

import shutil
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from unittest import mock

from sqlalchemy import text

from qcapp.errors import BadInput
from qcapp.store import log
from qcapp.store.projections.stove_projection import AtHand
from qcapp.sync import pull, push
from tests.sync.simulation.phone import Edits
from tests.sync.simulation.world import World

COLUMNS = "seq, id, hash, chain, state, device_id, dev_seq, raw"


@contextmanager
def compare_only_numbers(_world: World) -> Iterator[None]:
    """A log that is long enough is taken for the same log."""

    def compare(connection, have):
        return "ok" if have is None or have.seq <= log.get_head(connection).seq else "diverged"

    def find_seq(connection, cursor):
        seq = int(cursor.partition(":")[0] or 0)
        return seq if seq <= log.get_head(connection).seq else None

    with (
        mock.patch.object(push, "compare", compare),
        mock.patch.object(pull, "_find_seq", find_seq),
    ):
        yield


@contextmanager
def compare_nothing(_world: World) -> Iterator[None]:
    def find_seq(connection, cursor):
        return min(int(cursor.partition(":")[0] or 0), log.get_head(connection).seq)

    with (
        mock.patch.object(push, "compare", return_value="ok"),
        mock.patch.object(pull, "_find_seq", find_seq),
    ):
        yield


@contextmanager
def set_aside_beside_the_log(world: World) -> Iterator[None]:
    """What must not count goes to a table of its own, outside the running hash."""
    append, list_known = log.append, log.list_known
    make = "CREATE TABLE IF NOT EXISTS aside (id, hash, state, reason, device_id, dev_seq, raw)"
    keep = "INSERT INTO aside VALUES (:id, :hash, :state, :reason, :device_id, :dev_seq, :raw)"

    def append_counted(connection, entries, **more):
        connection.execute(text(make))
        for entry in entries:
            if entry.state != "counted":
                connection.execute(text(keep), vars(entry))
        return append(connection, [entry for entry in entries if entry.state == "counted"], **more)

    def list_both(connection, ids):
        wanted = list(ids)
        connection.execute(text(make))
        rows = connection.execute(text("SELECT id, hash, state, reason, 0 AS seq FROM aside"))
        return [*list_known(connection, wanted), *(row for row in rows if row.id in wanted)]

    query = (
        f"SELECT {COLUMNS} FROM log UNION ALL SELECT 0, id, hash, '', state, device_id, dev_seq,"
        " raw FROM aside"
    )
    with (
        mock.patch.object(log, "append", append_counted),
        mock.patch.object(log, "list_known", list_both),
        # What stands beside the log has no number by which the fold could find it.
        mock.patch.object(push, "_list_at_hand", _list_none_at_hand),
        _read(world, query, make),
    ):
        yield


def _list_none_at_hand(_arrived, _results, facts) -> AtHand:
    return AtHand({}, facts.checklists, facts.judged)


@contextmanager
def _read(world: World, query: str, make: str) -> Iterator[None]:
    """The checks read the log by another query, over a table that may not be there yet."""
    with (
        mock.patch.object(world.yard, "query", query),
        mock.patch.object(world.yard, "before_query", make),
    ):
        yield


@contextmanager
def insert_on_duplicate(world: World) -> Iterator[None]:
    """Every arrival is a new row; the table has no rule against it."""
    plain = world.yard.folder / "plain.db"
    shutil.copyfile(world.yard.template, plain)
    connection = sqlite3.connect(plain)
    connection.executescript(
        "CREATE TABLE plain AS SELECT * FROM log; DROP TABLE log; ALTER TABLE plain RENAME TO log"
    )
    connection.close()
    with (
        mock.patch.object(log, "list_known", return_value=[]),
        mock.patch.object(world.yard, "template", plain),
    ):
        yield


@contextmanager
def refuse_the_whole_batch(_world: World) -> Iterator[None]:
    sort_out = push._sort_out

    def sort_or_refuse(connection, entries, allowance):
        for entry in entries:
            if entry.state != "counted":
                raise BadInput(
                    f"this batch has a bad event: {entry.reason}", entry.id, "send it without"
                )
        return sort_out(connection, entries, allowance)

    with mock.patch.object(push, "_sort_out", sort_or_refuse):
        yield


# --- on the phone: changes to its own modules

SETTLES_THE_BATCH = (
    "acknowledge(batch.map(({ id }) => ({ id, outcome: 'created', seq: data.head.seq,"
    " ...data.results.find((one) => one.id === id && one.outcome !== 'retry') })),"
    " { ids, have }, data.head)"
)
TRUSTS_THE_STATUS: Edits = {
    # An answer is good, so all of the batch has arrived.
    "push": [("acknowledge(data.results, { ids, have }, data.head)", SETTLES_THE_BATCH)]
}
PULLS_FROM_ITS_OWN_PUSH: Edits = {
    # The head that a push answers is taken as the place to pull from.
    "acknowledge": [
        (
            'meta.put(head, "have");',
            'meta.put(head, "have"); meta.put(`${head.seq}:${head.chain.slice(0, 16)}`, "cursor");',
        )
    ]
}
TAKES_LATE_ANSWERS: Edits = {
    # An answer is used whatever has happened since its request.
    "acknowledge": [('!isSamePosition(await ask(meta.get("have")), asked.have)', "false")]
}
KEEP_SEALED = "const misfit = await withFreeSpace(() => keepSealed(event, device, draftKey))"
KEEP_NUMBER = (
    'await withStores(["meta"], "readwrite",'
    ' ({ meta }) => ask(meta.put(event.dev_seq, "dev_seq")));'
)
NUMBERS_BEFORE_THE_RECORD: Edits = {
    # A record's number is used up in a transaction before that of the record.
    "outbox": [
        (KEEP_SEALED, f"{KEEP_NUMBER} {KEEP_SEALED}"),
        (" || dev_seq !== device.dev_seq", ""),
    ]
}
MERGE = "export function mergePulled(rows, cursor, asked) {"
KEEP_CURSOR = (
    'await withStores(["meta"], "readwrite", ({ meta }) => ask(meta.put(cursor, "cursor")));'
)
MOVES_THE_CURSOR_FIRST: Edits = {
    # The place to pull from is kept in a transaction before that of the rows up to there.
    "acknowledge": [
        (MERGE, f"{MERGE.replace('function', 'async function')} {KEEP_CURSOR}"),
        ('(now.cursor ?? "") !== asked.cursor || ', ""),
    ]
}


def nothing(_world: World):
    return ExitStack()


Shortcut = tuple[Callable, Edits]
SHORTCUTS: Mapping[str, Shortcut] = {
    "compare only sequence numbers": (compare_only_numbers, {}),
    "no history check": (compare_nothing, {}),
    "refused events outside the log": (set_aside_beside_the_log, {}),
    "insert on duplicate": (insert_on_duplicate, {}),
    "whole batch refused for one bad event": (refuse_the_whole_batch, {}),
    "whole batch marked sent on HTTP 200": (nothing, TRUSTS_THE_STATUS),
    "push answer moves the pull cursor": (nothing, PULLS_FROM_ITS_OWN_PUSH),
    "late answers accepted": (nothing, TAKES_LATE_ANSWERS),
    "number and record in two transactions": (nothing, NUMBERS_BEFORE_THE_RECORD),
    "cursor and rows in two transactions": (nothing, MOVES_THE_CURSOR_FIRST),
}
