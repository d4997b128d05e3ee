"""What a phone needs to work without signal, and the greeting that says whether it has that."""

import hashlib
import json
from collections.abc import Mapping, Sequence, Set
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from qcapp.inspection.event import normalize_stove_key
from qcapp.inspection.study import SECOND_LOOK, Study, is_looked_at_twice, order_looks
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.queries import observations
from qcapp.store.queries.gauge_queries import list_gauges
from qcapp.store.queries.lesson_queries import list_lesson_parts
from qcapp.store.queries.studies import list_studies
from qcapp.store.registry import batches, checklists, drawings, people
from qcapp.store.registry.batches import Batch
from qcapp.store.registry.checklists import load_checklists
from qcapp.store.registry.people import Person
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.protocol import MAX_BYTES, MAX_EVENT_BYTES, MAX_EVENTS, PROTOCOL

# About two weeks of a small yard: older stoves have left.
NEWEST_FOR_SECOND_LOOK = 120
# Every greeting asks: only as many answers are read as could be of those stoves.
NEWEST_ANSWERS = 1000
# Of all pictures of lessons, on each phone, apart from the app's own files.
MAX_LESSON_BYTES = 512 * 1024
# Of a batch, what no phone shows.
OFFICE_ONLY = {"closed_at", "order_no", "contract_no", "ordered"}


def build_hello(store: Store, *, yard_name: str, now: datetime) -> dict[str, Any]:
    """The greeting. It is asked often and by every phone, so it reads no checklist text."""
    with store.reading() as connection:
        return {
            "protocol": PROTOCOL,
            "server_id": log.get_server_id(connection),
            "server_time": format_timestamp(now),
            "head": vars(log.get_head(connection)),
            "limits": {"events": MAX_EVENTS, "bytes": MAX_BYTES, "event_bytes": MAX_EVENT_BYTES},
            "checklists": checklists.list_hashes(connection),
            "reference_tag": _build_tag(connection, yard_name),
        }


def _build_tag(connection: Connection, yard_name: str) -> str:
    """Changes whenever anything in the reference changes."""
    current = checklists.list_current_hashes(connection)
    parts = [
        yard_name,
        people.list_people(connection),
        batches.list_current_batches(connection),
        current,
        drawings.list_digests(connection, current),
        log.list_server_hashes(connection, "plan"),
        list_open_studies(connection),
        list_second_looks(connection),
        list_gauges_asked(connection),
        log.list_server_hashes(connection, "lesson_part"),
    ]
    return hashlib.sha256(json.dumps(parts, sort_keys=True, default=vars).encode()).hexdigest()[:32]


def build_reference(store: Store, *, yard_name: str) -> dict[str, Any]:
    """All a phone needs to work without signal; `tag` is a hash over the rest.

    drawings: SVG text by file name, the checks' pictures among them. Where two checklists show
    another content under one name, the later one has its own `drawings` beside it.
    """
    with store.reading() as connection:
        current = checklists.list_current_definitions(connection)
        samples = list_samples(connection)
        offered = batches.list_current_batches(connection)
        open_crew = {
            place
            for batch in offered
            if batch["closed_at"] is None
            for place in batch["crew"].items()
        }
        shown, own = _share_drawings(connection, current)
        return {
            "tag": _build_tag(connection, yard_name),
            "yard": {"name": yard_name},
            "people": [_as_chosen(person, open_crew) for person in people.list_people(connection)],
            "batches": [_as_offered(batch, samples.get(batch["code"])) for batch in offered],
            "checklists": [
                {"hash": key, "compiled": compiled} | ({"drawings": own[key]} if own[key] else {})
                for key, compiled in current
            ],
            "drawings": shown,
            "studies": [_as_asked(connection, study) for study in list_open_studies(connection)],
            "second_looks": list_second_looks(connection),
            "gauges": list_gauges_asked(connection),
            "lessons": list_lessons(connection, [key for key, _compiled in current]),
        }


def _share_drawings(
    connection: Connection, current: Sequence[checklists.Definition]
) -> tuple[dict[str, str], dict[str, dict[str, str]]]:
    """(SVG text by name, as the first checklist has it; by checklist what differs from that)."""
    shared: dict[str, str] = {}
    own: dict[str, dict[str, str]] = {}
    for key, compiled in current:
        found = drawings.list_shown_here(connection, key, compiled)
        shared = found | shared
        own[key] = {name: source for name, source in found.items() if shared[name] != source}
    return dict(sorted(shared.items())), own


def _as_chosen(person: Person, open_crew: Set[tuple[str, str]]) -> dict[str, Any]:
    """A person as phones choose one.

    Whoever left keeps the name, for records, and is offered only where an open batch's crew says
    so. open_crew: (trade, code) of each place in it: its stoves may be inspected after who made
    them left.
    """
    shown = {key: value for key, value in person.items() if key != "has_left"}
    if not person["has_left"]:
        return shown
    return {
        **shown,
        "is_inspector": False,
        "trades": [trade for trade in person["trades"] if (trade, person["code"]) in open_crew],
    }


def list_samples(connection: Connection) -> dict[str, dict[str, Any]]:
    """What was agreed last, by batch: {"stage", "serials"} to inspect wholly.

    Batches inspected stove by stove are left out.
    """
    newest = {
        record.batch: json.loads(record.raw)["body"]
        for record in log.list_server_events(connection, ("plan",))
    }
    return {
        code: {"stage": body["checklist_stage"], "serials": sorted(body["sample"])}
        for code, body in newest.items()
        if code and body["inspect"] == "sample"
    }


def list_open_studies(connection: Connection) -> list[Study]:
    return [study for study in list_studies(connection) if study.is_open]


def _as_asked(connection: Connection, study: Study) -> dict[str, Any]:
    """A study as a phone runs it: who looks at what in which order.

    Answers are never sent to phones.
    """
    batch = batches.find_batch(connection, study.batch)
    return {
        "id": study.id,
        "title": study.title,
        "checklist_hash": study.checklist_hash,
        "batch": study.batch,
        "size": batch["size"] if batch else "",
        "batch_attributes": batch["attributes"] if batch else {},
        "checks": list(study.checks),
        "orders": {
            inspector: [
                {"stove": stove, "repeat": repeat}
                for stove, repeat in order_looks(study, inspector)
            ]
            for inspector in study.inspectors
        },
    }


def list_second_looks(connection: Connection) -> list[dict[str, str]]:
    """Stoves of open batches that someone else shall look at again without seeing the first
    answers, newest first.
    """
    server_id = log.get_server_id(connection)
    here = {batch["code"] for batch in batches.list_open_batches(connection)}
    answers = log.list_by_kind(connection, "study_answer", newest=NEWEST_ANSWERS)
    done = {
        normalize_stove_key(event["body"]["stove"])
        for event in answers
        if event["body"]["study"] == SECOND_LOOK
    }
    return [
        {
            "stove": f"{row.stage}/{row.serial}",
            "batch": row.batch,
            "but_inspector": row.inspector,
        }
        for row in observations.list_first_passes(connection, newest=NEWEST_FOR_SECOND_LOOK)
        if row.batch in here
        and is_looked_at_twice(server_id, row.stove_key)
        and row.stove_key not in done
    ]


def list_gauges_asked(connection: Connection) -> list[dict[str, Any]]:
    """Templates and gauges as a phone checks them and says that one is late.

    artisans: who shares a template, empty for all; voided: checks that count no more.
    """
    shared = {
        event["id"]: sorted(event["body"].get("artisans") or ())
        for event in log.list_by_kind(connection, "template")
    }
    return [
        {
            "id": gauge.id,
            "held_against": gauge.terms.id,
            "kind": gauge.terms.kind,
            "name": gauge.terms.name,
            "step": gauge.terms.step,
            "tool": gauge.terms.tool,
            "artisans": shared.get(gauge.terms.template or "", []),
            "piece": gauge.terms.piece,
            "unit": gauge.terms.unit,
            "lower": float(gauge.terms.lower),
            "value": float(gauge.terms.value),
            "upper": float(gauge.terms.upper),
            "interval_days": gauge.interval_days,
            "checked_at": gauge.last.at if gauge.last else None,
            "is_outside": gauge.is_outside,
            "due_on": gauge.due_on.isoformat(),
            "voided": list(gauge.voided),
        }
        for gauge in list_gauges(connection)
    ]


def list_lessons(connection: Connection, hashes: Sequence[str]) -> dict[str, list[dict[str, Any]]]:
    """{step: parts of its lesson}, of the steps of these checklists.

    is_kept: a picture that each phone keeps for no signal: all of them, as long as they are
    together at most MAX_LESSON_BYTES; later ones are fetched when they are chosen, and so is a
    voice note always.
    """
    parts = list_lesson_parts(connection)
    known = load_checklists(connection, hashes) if parts else {}
    steps = {step.id for checklist in known.values() for step in checklist.steps}
    left = MAX_LESSON_BYTES
    found: dict[str, list[dict[str, Any]]] = {}
    for step in sorted(steps & parts.keys()):
        for part in parts[step]:
            is_kept = part.kind == "picture" and part.size <= left
            left -= part.size if is_kept else 0
            same = ("kind", "sha256", "type", "size", "caption")
            found.setdefault(step, []).append(
                {**{name: getattr(part, name) for name in same}, "is_kept": is_kept}
            )
    return found


def _as_offered(batch: Batch, sample: Mapping[str, Any] | None) -> dict[str, Any]:
    offered = {key: value for key, value in batch.items() if key not in OFFICE_ONLY}
    is_open = batch["closed_at"] is None
    return {**offered, "is_open": is_open, **({"sample": sample} if sample and is_open else {})}
