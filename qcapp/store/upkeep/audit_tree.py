"""The tree over the log, made again while the log is walked, and held against what is stored of it
and against what each issued summary says of it.
"""

import json
from collections.abc import Iterator

from sqlalchemy import Connection, select

from qcapp.errors import BadInput
from qcapp.store.log import LogRecord
from qcapp.store.log.tree import hash_entry, list_stored
from qcapp.store.tables import TREE_NODE
from qcapp.store.upkeep.audit_figures import Altered
from qcapp.transparency.checkpoint import parse_checkpoint
from qcapp.transparency.merkle import GrowingTree


class TreeAudit:
    """Holds the stored nodes, one for sixteen records."""

    def __init__(self, connection: Connection) -> None:
        query = select(TREE_NODE.c.level, TREE_NODE.c.place, TREE_NODE.c.hash)
        self._left = {(row.level, row.place): row.hash for row in connection.execute(query)}
        self._tree = GrowingTree()
        self._unfit: tuple[int, int] | None = None

    def add(self, record: LogRecord) -> None:
        """The next record of the log."""
        for level, place, node in list_stored(self._tree, hash_entry(record.id, record.hash)):
            if self._left.pop((level, place), None) != node.hex() and self._unfit is None:
                self._unfit = ((place << level) + 1, place + 1 << level)

    def find_unfit_checkpoint(self, record: LogRecord) -> Iterator[str]:
        """Before the record is added: an issued summary has a checkpoint of all before it."""
        if record.kind != "summary" or record.state != "counted":
            return
        try:
            rests_on = json.loads(record.raw)["body"]["proof"]["summary"]["rests_on"]
            checkpoint = parse_checkpoint(rests_on["checkpoint"])
        except (BadInput, ValueError, KeyError, TypeError, AttributeError):
            return
        if (checkpoint.size, checkpoint.root) != (self._tree.size, self._tree.get_root()):
            yield "the checkpoint in the summary issued here is not of the log before it"

    def list_unfit_nodes(self) -> Iterator[Altered]:
        """At the end of the log. One line is enough: above a node that differs all others do."""
        if self._unfit:
            first, last = self._unfit
            yield Altered(
                f"the tree over records {first} to {last}",
                "it is not the one that the log gives; qcapp rebuild makes it again",
            )
        elif self._left:
            yield Altered("the tree over the log", "it covers records that are not in the log")
