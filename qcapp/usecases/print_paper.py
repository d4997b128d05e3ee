"""Check sheets and tags from what the yard has: found in the store, printed by documents/ in the
language of whoever asks.
"""

from datetime import datetime

from qcapp.checklist.model import Checklist
from qcapp.documents.check_sheet_pdf import STOVES, SheetRequest, build_check_sheet_pdf
from qcapp.documents.tags_pdf import Tag, build_tags_pdf
from qcapp.errors import BadInput
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import phrase
from qcapp.i18n.sizes import name_size
from qcapp.inspection.not_asked import list_not_asked
from qcapp.inspection.serial import build_serial, build_tag_serial, has_checked_serials
from qcapp.store.engine import Store
from qcapp.store.registry.batches import get_batch
from qcapp.store.registry.checklists import get_current_checklist
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.pieces_asked import list_pieces_asked

MAX_TAGS = 1000


def print_sheet(
    store: Store,
    drawings: KeptDrawings,
    checklist_id: str,
    *,
    yard: str,
    now: datetime,
    size: str | None = None,
    stoves: int = 1,
    batch_code: str | None = None,
) -> bytes:
    """The check sheet as PDF. A batch gives its size, its crew and what it is not asked. Raises
    NotFound, BadInput.
    """
    with store.reading() as connection:
        checklist = get_current_checklist(connection, checklist_id)
        batch = get_batch(connection, batch_code) if batch_code else None
        pieces = list_pieces_asked(connection, checklist)
    size = size or (batch["size"] if batch else None)
    _refuse_sheet(checklist, size, stoves)
    request = SheetRequest(
        yard=yard,
        size=size,
        stoves=stoves,
        batch={"code": batch["code"], "title": batch["title"]} if batch else None,
        crew=batch["crew"] if batch else None,
        left_out=list_not_asked(checklist, batch) if batch else (),
        pieces=pieces,
        language=get_active_locale().language,
    )
    return build_check_sheet_pdf(
        checklist.compiled(),
        checklist_hash=checklist.hash,
        drawing_svg=drawings.get(checklist),
        request=request,
        dated=now,
        pictures=drawings.list_all(checklist),
    )


def _refuse_sheet(checklist: Checklist, size: str | None, stoves: int) -> None:
    """Raises BadInput where no such sheet can be printed."""
    if size is not None and size not in checklist.sizes:
        raise BadInput(
            phrase(
                "%(checklist_id)s has no limits for the size %(size)s",
                checklist_id=checklist.id,
                size=name_size(size),
            ),
            "size",
            phrase("choose one of %(sizes)s", sizes=[name_size(one) for one in checklist.sizes]),
        )
    if stoves not in STOVES:
        raise BadInput(
            phrase("there is no sheet for %(stoves)s stoves", stoves=stoves),
            "stoves",
            phrase("choose %(one)s or %(other)s", one=STOVES[0], other=STOVES[1]),
        )


def print_tags(
    store: Store,
    batch_code: str,
    *,
    yard: str,
    now: datetime,
    first: int = 1,
    last: int | None = None,
) -> bytes:
    """Tags of the batch's serials from a first to a last number (its planned count when not given).
    Raises NotFound, BadInput.
    """
    with store.reading() as connection:
        batch = get_batch(connection, batch_code)
    last = batch["planned"] if last is None else last
    _refuse_numbers(first, last)
    serials = [build_serial(batch["serial_prefix"], number) for number in range(first, last + 1)]
    tags = [
        Tag(build_tag_serial(serial) if has_checked_serials(batch) else serial, serial)
        for serial in serials
    ]
    line = phrase(
        "%(title)s, size %(size)s, stoves %(first)s to %(last)s",
        title=batch["title"],
        size=name_size(batch["size"]),
        first=str(first),
        last=str(last),
    )
    return build_tags_pdf(
        tags,
        yard=yard,
        batch=batch["code"],
        line=line,
        dated=now,
        language=get_active_locale().language,
    )


def _refuse_numbers(first: int, last: int) -> None:
    if not 1 <= first <= last:
        raise BadInput(
            phrase("there are no tags from %(first)s to %(last)s", first=first, last=last),
            "first, last",
            phrase("give two numbers from 1, the smaller one first"),
        )
    if last - first >= MAX_TAGS:
        raise BadInput(
            phrase("%(n)s tags are too many at once", n=last - first + 1),
            "first, last",
            phrase("print at most %(max_tags)s", max_tags=MAX_TAGS),
        )
