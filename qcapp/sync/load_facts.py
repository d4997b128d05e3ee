"""What the yard knows, as an event that arrives is held against it."""

from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection

from qcapp.store import log
from qcapp.store.queries.gauge_queries import load_gauge_terms
from qcapp.store.registry import batches, checklists, people
from qcapp.sync.facts import Facts


def load_facts(
    connection: Connection,
    checklist_hashes: Iterable[Any],
    batch_codes: Iterable[Any],
    *,
    has_study: bool = True,
    has_gauge: bool = True,
) -> Facts:
    """What the yard knows now, with those of the named checklists and batches that are here.

    has_study, has_gauge: whether studies, or templates and gauges, are asked for.
    """
    known = batches.list_named_batches(connection, batch_codes)
    kept = checklists.load_kept(connection, checklist_hashes)
    everybody = people.list_people(connection)
    return Facts(
        people=frozenset(person["code"] for person in everybody),
        inspectors=frozenset(person["code"] for person in everybody if person["is_inspector"]),
        batches={batch["code"]: batch for batch in known},
        checklists={key: one.checklist for key, one in kept.items()},
        unpublished=frozenset(key for key, one in kept.items() if one.origin == checklists.BROUGHT),
        studies=load_study_ids(connection) if has_study else frozenset(),
        gauges=load_gauge_terms(connection) if has_gauge else {},
    )


def load_study_ids(connection: Connection) -> frozenset[str]:
    """Closed ones too: a phone may come late with what was answered in time."""
    return frozenset(event["id"] for event in log.list_by_kind(connection, "study"))
