"""Whether a stored event counts: store first, judge later.

Nothing is refused here. An event that must not count is kept in the log with a reason, until a
person decides.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from qcapp.checklist.model import Checklist
from qcapp.i18n.messages import Message
from qcapp.inspection.disposition import allowed_dispositions
from qcapp.inspection.event import SERVER_KINDS, Event, stove_key
from qcapp.inspection.holes import is_sound
from qcapp.inspection.judge import hinders_release
from qcapp.inspection.judged import JudgedInspections
from qcapp.inspection.study import RECHECK, SECOND_LOOK
from qcapp.store.log import Entry
from qcapp.store.storable import is_storable
from qcapp.sync.arrived import Arrived, Content, read_text
from qcapp.sync.facts import Facts
from qcapp.sync.quarantine_reasons import (
    BATCH_CLOSED,
    DISPOSITION_WITH_FAIL,
    IMPOSSIBLE_PHOTO,
    IMPOSSIBLE_VALUE,
    RECHECK_ONLY,
    SERVER_ONLY,
    UNKNOWN_ARTISAN,
    UNKNOWN_BATCH,
    UNKNOWN_CHECK,
    UNKNOWN_CHECKLIST,
    UNKNOWN_GAUGE,
    UNKNOWN_INSPECTOR,
    UNKNOWN_SIZE,
    UNKNOWN_STUDY,
    UNPUBLISHED_CHECKLIST,
    WRONG_HASH,
    describe_form_error,
)

KINDS_WITH_STOVE = ("inspection", "correction", "void")


def build_entry(
    arrived: Arrived,
    facts: Facts,
    find_author_reason: Callable[[Arrived], Message | None] = lambda _arrived: None,
) -> Entry:
    """The log entry, counted or with the reason why it must not count.

    find_author_reason: of a well-formed one, why it is not proven who made it.
    """
    content = arrived.content
    event = read_sealed(content, arrived.hash)
    reason = (
        event
        if isinstance(event, Message)
        else find_author_reason(arrived) or _find_content_reason(event, content, facts)
    )
    return Entry(
        id=read_text(content.get("id")) or f"unreadable-{arrived.hash[:32]}",
        hash=arrived.hash,
        state="quarantined" if reason else "counted",
        reason=reason.to_text() if reason else None,
        kind=read_text(content.get("kind"), most=32) or "unreadable",
        device_id=read_text(content.get("device_id")) or "unknown",
        dev_seq=_whole(content.get("dev_seq")),
        stove_key=_find_stove_key(content),
        batch=read_text(content.get("batch")),
        raw=arrived.raw,
        signature=arrived.signature,
    )


def find_reason(content: Content, content_hash: str, facts: Facts) -> Message | None:
    """Why this content must not count, whoever made it; None when it may."""
    event = read_sealed(content, content_hash)
    if isinstance(event, Message):
        return event
    # These facts may be held against a thousand records that are not folded after it.
    return _find_content_reason(event, content, replace(facts, judged=JudgedInspections()))


def read_sealed(content: Content, content_hash: str) -> Event | Message:
    """The event, or why it is no whole record as a phone seals it."""
    try:
        event = Event.model_validate(content)
    except ValidationError as error:
        return describe_form_error(error)
    return event if event.hash == content_hash else WRONG_HASH()


def _find_content_reason(event: Event, content: Content, facts: Facts) -> Message | None:
    if event.kind in SERVER_KINDS and not facts.is_from_server:
        return SERVER_ONLY(kind=event.kind)
    if facts.buyer_batch is not None:
        return _find_recheck_reason(event, content, facts.buyer_batch)
    is_looked = event.kind == "study_answer" and not facts.is_from_server
    is_by_person = is_looked or event.kind in (*KINDS_WITH_STOVE, "gauge_check", "first_piece")
    if is_by_person and event.inspector not in facts.people:
        return UNKNOWN_INSPECTOR(inspector=event.inspector)
    if is_looked:
        return _find_study_reason(content, facts)
    if event.kind == "gauge_check":
        gauge, terms = content["body"]["gauge"], content["body"]["held_against"]
        return None if facts.gauges.get(terms) == gauge else UNKNOWN_GAUGE(gauge=gauge)
    if event.kind == "first_piece":
        return _find_first_piece_reason(event, content["body"], facts)
    is_inspected = event.kind in ("inspection", "correction")
    return _find_inspection_reason(event, content, facts) if is_inspected else None


def _find_recheck_reason(event: Event, content: Content, batch: str) -> Message | None:
    if event.kind == "study_answer" and content["body"]["study"] == f"{RECHECK}{batch}":
        return None
    return RECHECK_ONLY(batch=batch)


def _find_study_reason(content: Content, facts: Facts) -> Message | None:
    study = content["body"]["study"]
    if study == SECOND_LOOK or study in facts.studies:
        return None
    return UNKNOWN_STUDY(study=study)


def _find_inspection_reason(event: Event, content: Content, facts: Facts) -> Message | None:
    body = content["body"] if event.kind == "inspection" else content["body"].get("replacement")
    batch = facts.batches.get(event.batch or "")
    if batch is None:
        return UNKNOWN_BATCH(batch=event.batch)
    if (
        batch["closed_at"]
        and event.kind == "inspection"
        and content["captured_at"] > batch["closed_at"]
    ):
        return BATCH_CLOSED(batch=event.batch)
    checklist = _find_checklist(event, facts)
    if isinstance(checklist, Message):
        return checklist
    strangers = sorted(set(body["crew"].values()) - facts.people)
    if strangers:
        return UNKNOWN_ARTISAN(names=strangers)
    return _find_answer_reason(body, checklist, facts.judged) or _find_disposition_reason(
        body, checklist, facts.judged
    )


def _find_first_piece_reason(event: Event, body: Content, facts: Facts) -> Message | None:
    if event.batch not in facts.batches:
        return UNKNOWN_BATCH(batch=event.batch)
    checklist = _find_checklist(event, facts)
    if isinstance(checklist, Message):
        return checklist
    if body["maker"] not in facts.people:
        return UNKNOWN_ARTISAN(names=[body["maker"]])
    return _find_answer_reason(body, checklist, facts.judged)


def _find_checklist(event: Event, facts: Facts) -> Checklist | Message:
    """The one it is judged by, or why there is none."""
    checklist = facts.checklists.get(event.checklist_hash or "")
    if checklist is None:
        return UNKNOWN_CHECKLIST(checklist=event.checklist)
    if checklist.hash in facts.unpublished:
        # Whoever holds a phone could bring one that asks nothing that can fail.
        return UNPUBLISHED_CHECKLIST(checklist=event.checklist)
    return checklist


def _find_answer_reason(
    body: Content, checklist: Checklist, judged: JudgedInspections
) -> Message | None:
    known = checklist.check_by_id
    unknown = sorted(body["answers"].keys() - known.keys())
    if unknown:
        return UNKNOWN_CHECK(names=unknown)
    if body["size"] not in checklist.sizes:
        return UNKNOWN_SIZE(size=body["size"])
    judgements = judged.judge(body, checklist)
    impossible = sorted(
        key for key, found in judgements.items() if found.reason in ("impossible", "not-a-number")
    )
    if impossible:
        return IMPOSSIBLE_VALUE(names=impossible)
    unsound = sorted(
        key
        for key, answer in body["answers"].items()
        # Nothing without a photo is asked further: nearly no answer has one.
        if answer.get("holes")
        and (judgements[key].reason == "photo-impossible" or not is_sound(known[key], answer))
    )
    return IMPOSSIBLE_PHOTO(names=unsound) if unsound else None


def _find_disposition_reason(
    body: Content, checklist: Checklist, judged: JudgedInspections
) -> Message | None:
    known, judgements = checklist.check_by_id, judged.judge(body, checklist)
    failed = [
        known[key].severity
        for key, found in judgements.items()
        if found.verdict != "pass" and hinders_release(known[key], found)
    ]
    kind = body["disposition"]["kind"]
    if kind in ("release", "concession") and kind not in allowed_dispositions(failed, False):
        return DISPOSITION_WITH_FAIL(kind=kind)
    return None


def _find_stove_key(content: Content) -> str | None:
    stage, stove = content.get("stage"), content.get("stove")
    return stove_key(stage, stove) if is_storable(stage) and is_storable(stove) else None


def _whole(value: Any) -> int:
    # SQLite keeps 64 bits; a number beyond that is found by the form check.
    return (
        value
        if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**53
        else 0
    )
