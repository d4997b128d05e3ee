"""Whether a stored event counts: store first, judge later.

Nothing is refused here. An event that must not count is kept in the log with a reason,
until a person decides.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput, QcappError
from qcapp.i18n.phrase import phrase
from qcapp.inspection.disposition import allowed_dispositions
from qcapp.inspection.event import SERVER_KINDS, Event, event_hash, freeze, stove_key
from qcapp.inspection.judge import counts_as_fail, judge_answers
from qcapp.inspection.study import SECOND_LOOK
from qcapp.store.log import Entry
from qcapp.sync.protocol import MAX_EVENT_BYTES

# An event has about six.
MAX_LEVELS = 100
# An event of the right form has at most 100 characters of each.
MAX_NAME = 200
KINDS_WITH_STOVE = ("inspection", "correction", "void")


@dataclass(frozen=True)
class Facts:
    """What the yard knows: codes of people, batches by code, checklists by hash, ids of studies.

    is_own: the server itself makes the event, no phone sent it.
    """

    people: frozenset[str]
    batches: Mapping[str, dict]
    checklists: Mapping[str, Checklist]
    is_own: bool = False
    studies: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Arrived:
    """Whatever came as an event. raw: the text kept for ever; hash: of all but its own hash field.

    refusal: why it cannot be kept at all, else None.
    """

    content: dict
    raw: str
    hash: str
    refusal: str | None = None


def freeze_arrived(value: Any) -> Arrived:
    content = value if isinstance(value, dict) else {"unreadable": value}
    try:
        if _is_deeper(content, MAX_LEVELS):
            raise BadInput(
                phrase("deeper than %(max_levels)s levels", max_levels=MAX_LEVELS),
                "event",
                phrase("send a flat record"),
            )
        whole, content_hash = freeze(content)
        raw = whole.decode()
    except QcappError:
        # Numbers or text an event never holds: kept as ASCII JSON, found by the form check.
        try:
            raw = _write_harmless(content)
        except RecursionError:
            return Arrived(
                {"id": content.get("id")},
                "",
                "",
                "nested too deeply: this is not a record of the app",
            )
        content_hash = event_hash({"text": raw})
    is_large = len(raw.encode()) > MAX_EVENT_BYTES
    refusal = (
        f"too large: an event may have {MAX_EVENT_BYTES} bytes; shorten the note"
        if is_large
        else None
    )
    return Arrived(content, raw, content_hash, refusal)


def _write_harmless(content: dict) -> str:
    """JSON text that every answer can carry on: one junk record must not end the pulls of all phones.

    Half characters, endless numbers and great depths are kept as a string inside.
    """
    text = json.dumps(content, sort_keys=True)
    try:
        json.dumps(content, ensure_ascii=False, allow_nan=False).encode()
        is_fine = not _is_deeper(content, MAX_LEVELS)
    except ValueError:
        is_fine = False
    return text if is_fine else json.dumps({"unreadable": text})


def _is_deeper(value: Any, levels: int) -> bool:
    """Looked at level by level, so that depth itself cannot break it."""
    inside = [value]
    for _ in range(levels):
        inside = [
            child
            for one in inside
            for child in (
                one.values() if isinstance(one, dict) else one if isinstance(one, list) else ()
            )
        ]
        if not inside:
            return False
    return True


def build_entry(arrived: Arrived, facts: Facts) -> Entry:
    """The log entry, counted or with the reason why it must not count."""
    content = arrived.content
    reason = find_reason(content, arrived.hash, facts)
    return Entry(
        id=read_text(content.get("id")) or f"unreadable-{arrived.hash[:32]}",
        hash=arrived.hash,
        state="quarantined" if reason else "counted",
        reason=reason,
        kind=read_text(content.get("kind"), most=32) or "unreadable",
        device_id=read_text(content.get("device_id")) or "unknown",
        dev_seq=_whole(content.get("dev_seq")),
        stove_key=_find_stove_key(content),
        batch=read_text(content.get("batch")),
        raw=arrived.raw,
    )


def find_reason(content: dict, content_hash: str, facts: Facts) -> str | None:
    """Why this content must not count, None when it may."""
    try:
        event = Event.model_validate(content)
    except ValidationError as error:
        return phrase("form: %(error)s", error=_first_error(error))
    if event.hash != content_hash:
        return phrase("hash: the content is not what the phone sealed")
    if event.kind in SERVER_KINDS and not facts.is_own:
        return phrase(
            "kind: only the yard's server makes a %(kind)s", kind=event.kind.replace("_", " ")
        )
    if event.kind == "study_answer" and not facts.is_own:
        return _find_study_reason(event, content, facts)
    if event.kind not in KINDS_WITH_STOVE:
        return None
    if event.inspector not in facts.people:
        return phrase("unknown inspector: %(inspector)s", inspector=event.inspector)
    if event.kind == "void":
        return None
    return _find_inspection_reason(event, content, facts)


def _find_study_reason(event: Event, content: dict, facts: Facts) -> str | None:
    if event.inspector not in facts.people:
        return phrase("unknown inspector: %(inspector)s", inspector=event.inspector)
    study = content["body"]["study"]
    return (
        None
        if study == SECOND_LOOK or study in facts.studies
        else phrase("unknown study: %(study)s", study=study)
    )


def _find_inspection_reason(event: Event, content: dict, facts: Facts) -> str | None:
    body = content["body"] if event.kind == "inspection" else content["body"].get("replacement")
    batch = facts.batches.get(event.batch or "")
    if batch is None:
        return phrase("unknown batch: %(batch)s", batch=event.batch)
    if (
        batch["closed_at"]
        and event.kind == "inspection"
        and content["captured_at"] > batch["closed_at"]
    ):
        return phrase("batch closed: %(batch)s", batch=event.batch)
    checklist = facts.checklists.get(event.checklist_hash or "")
    if checklist is None:
        return phrase("unknown checklist: %(checklist)s", checklist=event.checklist)
    strangers = sorted(set(body["crew"].values()) - facts.people)
    if strangers:
        return phrase("unknown artisan: %(names)s", names=strangers)
    return _find_answer_reason(body, checklist)


def _find_answer_reason(body: dict, checklist: Checklist) -> str | None:
    known = {check.id: check for check in checklist.checks}
    unknown = sorted(set(body["answers"]) - set(known))
    if unknown:
        return phrase("unknown check: %(names)s", names=unknown)
    if body["size"] not in checklist.sizes:
        return phrase("unknown size: %(size)s", size=body["size"])
    context = {"size": body["size"], "batch": body["batch_attributes"]}
    judged = judge_answers(checklist, body["answers"], context)
    impossible = sorted(
        key for key, found in judged.items() if found.reason in ("impossible", "not-a-number")
    )
    if impossible:
        return phrase("impossible value: %(names)s", names=impossible)
    failed = [
        known[key].severity
        for key, found in judged.items()
        if counts_as_fail(known[key], found.verdict)
    ]
    kind = body["disposition"]["kind"]
    if kind in ("release", "concession") and kind not in allowed_dispositions(failed, False):
        return phrase("disposition: %(kind)s with a failed check", kind=kind)
    return None


def _find_stove_key(content: dict) -> str | None:
    stage, stove = content.get("stage"), content.get("stove")
    return stove_key(stage, stove) if _is_storable(stage) and _is_storable(stove) else None


def _is_storable(value: Any) -> bool:
    """Text that every database takes and can index: no half characters, no zero, not endless."""
    return (
        isinstance(value, str)
        and 0 < len(value) <= MAX_NAME
        and not re.search("[\0\ud800-\udfff]", value)
    )


def read_text(value: Any, *, most: int = 64) -> str | None:
    """The value when it is text that can be shown and indexed, else None."""
    return (
        value if isinstance(value, str) and 0 < len(value) <= most and value.isprintable() else None
    )


def _whole(value: Any) -> int:
    # SQLite keeps 64 bits; a number beyond that is found by the form check.
    return (
        value
        if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**53
        else 0
    )


def _first_error(error: ValidationError) -> str:
    first = error.errors(include_url=False, include_input=False)[0]
    found = f"{'.'.join(str(part) for part in first['loc'])}: {first['msg']}"
    return found.encode(errors="replace").decode()
