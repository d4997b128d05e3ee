"""A checklist that the programme offers: the yard's lead sees what it changes and decides."""

from dataclasses import dataclass
from datetime import datetime

from qcapp.checklist.change_words import Change
from qcapp.checklist.changes import list_changes
from qcapp.checklist.compare import YARDS_OWN, Notice, list_warnings
from qcapp.checklist.model import Checklist
from qcapp.errors import Clash
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import checklist_offers, checklists, drawings
from qcapp.store.registry.checklist_offers import Offer
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.checklist_draft import WORDS


@dataclass(frozen=True)
class OfferedHere:
    """What a yard's lead decides on. current: None where the yard has none of this name."""

    offer: Offer
    current: Checklist | None

    @property
    def warnings(self) -> list[Notice]:
        """Where it asks less than the yard's own."""
        if self.current is None:
            return []
        return list_warnings(self.current, self.offer.checklist, YARDS_OWN)

    @property
    def changes(self) -> list[Change]:
        """Every one from the yard's own."""
        return list_changes(self.current, self.offer.checklist, WORDS) if self.current else []

    @property
    def new_checks(self) -> list[str]:
        """Ids of checks that the yard does not make today."""
        known = self.current.check_by_id if self.current else {}
        return [check.id for check in self.offer.checklist.checks if check.id not in known]


def list_offered_here(connection: Connection) -> list[OfferedHere]:
    """Those that wait for this yard's lead."""
    current = {one.id: one for one in checklists.list_current_checklists(connection)}
    return [
        OfferedHere(offer, current.get(offer.checklist.id))
        for offer in checklist_offers.list_waiting_offers(connection)
    ]


def get_offered_here(connection: Connection, checklist_hash: str) -> OfferedHere:
    """Raises NotFound."""
    offer = checklist_offers.get_waiting_offer(connection, checklist_hash)
    current = {one.id: one for one in checklists.list_current_checklists(connection)}
    return OfferedHere(offer, current.get(offer.checklist.id))


def take_offer(store: Store, checklist_hash: str, *, by: str, now: datetime) -> Checklist:
    """Publishes it as the yard's own. Raises NotFound, and Clash when the yard has published a
    newer revision since: the offered one would stay behind it.
    """
    with store.writing() as connection:
        checklist = checklist_offers.get_waiting_offer(connection, checklist_hash).checklist
        newest = checklists.find_newest_revision(connection, checklist.id)
        if newest >= checklist.revision:
            raise Clash(
                phrase("this yard has published revision %(revision)s since", revision=str(newest)),
                checklist.key,
                phrase("decline it, and ask the programme to offer it again"),
            )
        at = format_timestamp(now)
        checklists.publish_checklist(connection, checklist, origin="yard", now=at)
        # The pictures as they are now belong to this revision, whatever the files show later.
        shown = drawings.list_shown_here(connection, checklist.hash, checklist.compiled())
        drawings.keep_drawings(connection, checklist.hash, shown)
        checklist_offers.decide_offer(
            connection, checklist_hash, state=checklist_offers.TAKEN, by=by, reason="", now=at
        )
    return checklist


def decline_offer(
    store: Store, checklist_hash: str, *, by: str, reason: str, now: datetime
) -> None:
    """The programme's lead sees the reason. Raises NotFound."""
    with store.writing() as connection:
        checklist_offers.get_waiting_offer(connection, checklist_hash)
        checklist_offers.decide_offer(
            connection,
            checklist_hash,
            state=checklist_offers.DECLINED,
            by=by,
            reason=reason,
            now=format_timestamp(now),
        )
