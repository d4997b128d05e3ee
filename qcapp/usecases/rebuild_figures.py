"""Make every figure, and the tree over the log, again from the log."""

from collections.abc import Callable

from qcapp.errors import BadInput
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.log import Head
from qcapp.store.projections import stove_projection


def rebuild_figures(store: Store, report_progress: Callable[[int, int], None]) -> tuple[int, Head]:
    """(how many stoves, where the log ends). report_progress: called with how many are done, of how
    many. Raises BadInput for a log whose running hash does not fit.
    """
    # One transaction: phones that send meanwhile are told to come again.
    with store.writing() as connection:
        broken = log.find_broken_link(connection)
        if broken is not None:
            raise BadInput(
                "the log's running hash does not match",
                f"record {broken}",
                "somebody altered it; restore a backup",
            )
        log.build_tree(connection)
        return stove_projection.rebuild(connection, report_progress), log.get_head(connection)
