"""Checklists that the lead of several yards asks this yard to use: kept until its lead decides."""

import json
from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, func, insert, select, true, update

from qcapp.checklist.model import Checklist
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.tables import CHECKLIST_OFFER

WAITING, TAKEN, DECLINED = "waiting", "taken", "declined"


class Offer(NamedTuple):
    """state: WAITING, TAKEN or DECLINED; the rest of a decision None while it waits."""

    checklist: Checklist
    offered_by: str
    offered_at: str
    state: str
    decided_by: str | None
    decided_at: str | None
    reason: str | None


def save_offer(connection: Connection, checklist: Checklist, *, by: str, now: str) -> None:
    """The same content again changes nothing: a yard that declined it is not asked twice."""
    kept = select(CHECKLIST_OFFER.c.hash).where(CHECKLIST_OFFER.c.hash == checklist.hash)
    if connection.execute(kept).first():
        return
    row = {
        "hash": checklist.hash,
        "checklist_id": checklist.id,
        "revision": checklist.revision,
        "offered_by": by,
        "offered_at": now,
        "state": WAITING,
        "compiled": json.dumps(checklist.compiled(), ensure_ascii=False),
    }
    connection.execute(insert(CHECKLIST_OFFER), [row])


def list_offers(connection: Connection) -> list[Offer]:
    """Newest first."""
    return _list(connection, true())


def list_waiting_offers(connection: Connection) -> list[Offer]:
    """About which nobody has decided, newest first."""
    return _list(connection, CHECKLIST_OFFER.c.state == WAITING)


def _list(connection: Connection, condition: ColumnElement[bool]) -> list[Offer]:
    columns = (CHECKLIST_OFFER.c[name] for name in ("compiled", *Offer._fields[1:]))
    order = (CHECKLIST_OFFER.c.offered_at.desc(), CHECKLIST_OFFER.c.revision.desc())
    query = select(*columns).where(condition).order_by(*order)
    return [
        Offer(Checklist.from_compiled(json.loads(compiled)), *rest)
        for compiled, *rest in connection.execute(query)
    ]


def get_waiting_offer(connection: Connection, checklist_hash: str) -> Offer:
    """Raises NotFound."""
    wanted = (CHECKLIST_OFFER.c.hash == checklist_hash) & (CHECKLIST_OFFER.c.state == WAITING)
    for offer in _list(connection, wanted):
        return offer
    raise NotFound(
        phrase("no checklist of this kind is offered"),
        checklist_hash[:12],
        phrase("see the list of checklists"),
    )


def find_newest_revision(connection: Connection, checklist_id: str) -> int:
    """Of all that were offered of a checklist, 0 when there is none."""
    query = select(func.max(CHECKLIST_OFFER.c.revision)).where(
        CHECKLIST_OFFER.c.checklist_id == checklist_id
    )
    return connection.execute(query).scalar() or 0


def decide_offer(
    connection: Connection, checklist_hash: str, *, state: str, by: str, reason: str, now: str
) -> None:
    connection.execute(
        update(CHECKLIST_OFFER)
        .where(CHECKLIST_OFFER.c.hash == checklist_hash)
        .values(state=state, decided_by=by, decided_at=now, reason=reason)
    )
