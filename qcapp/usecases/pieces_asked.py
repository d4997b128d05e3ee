"""Which pieces that are built in a sheet or a phone asks for."""

from qcapp.checklist.model import Checklist
from qcapp.store.engine import Connection
from qcapp.store.registry import batches
from qcapp.store.registry.checklists import list_current_checklists


def list_pieces_asked(connection: Connection, checklist: Checklist) -> tuple[str, ...]:
    """Stages whose pieces are built in and inspected themselves in an open batch; else nobody would
    know a serial. What an earlier stage of the same stove asks for is not asked again.

    Twin of piecesAsked in static/phone/js/screens/next.js.
    """
    used = {
        checklist_id
        for batch in batches.list_open_batches(connection)
        for checklist_id in batch["checklist_ids"]
    }
    inspected = [one for one in list_current_checklists(connection) if one.id in used]
    stages = {one.stage for one in inspected}
    earlier = [one for one in inspected if one.stage in checklist.same_serial]
    asked_before = {stage for one in earlier for stage in one.made_from}
    return tuple(one for one in checklist.made_from if one in stages and one not in asked_before)
