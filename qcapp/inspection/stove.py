"""The state of one stove: a pure fold over its events.

Twin of static/phone/js/inspection/stove.js; the rule is tests/vectors/fold/.
"""

from collections.abc import Iterable, Mapping
from typing import Any

RawEvent = Mapping[str, Any]

# The id is last only so that the order is total, whatever came in.
CAPTURE_ORDER = ("captured_at", "device_id", "dev_seq", "id")


def fold_stove(events: Iterable[RawEvent]) -> dict[str, Any]:
    """State of one stove after `events` (plain dicts, in the log's order).

    An event may come before the one it corrects; only the order of corrections of one
    inspection among themselves matters: the later one wins. Corrections of a correction, and
    voids, lead back to the inspection at the root. What leads to no known inspection waits.
    What people decided about quarantined records comes first.

    Returns {"inspections": [...], "disposition": kind of the last one or None, "newest": id of the
    last one's newest content, "decided": None or {"by", "at", "kind", "reason"} where the lead
    decided about that while it was held, "corrected_twice": bool}; inspections in order of
    (captured_at, device_id, dev_seq), the first being the first pass, voided ones left out.
    """
    by_id = _apply_quarantine_decisions(list(events))
    corrections: dict[str, list[RawEvent]] = {}
    voided = set()
    for event in by_id.values():
        root_id = _find_root_id(event, by_id)
        if root_id is None:
            continue
        if event["kind"] == "void":
            voided.add(root_id)
        elif event["kind"] == "correction":
            corrections.setdefault(root_id, []).append(event)
    roots = [
        event
        for event in by_id.values()
        if event["kind"] == "inspection" and event["id"] not in voided
    ]
    roots.sort(key=lambda event: [event[key] for key in CAPTURE_ORDER])
    inspections = [_build_effective(root, corrections.get(root["id"], [])) for root in roots]
    last = inspections[-1]["body"]["disposition"]["kind"] if inspections else None
    newest = corrections.get(roots[-1]["id"], roots)[-1]["id"] if roots else None
    decided = _find_hold_decision(by_id.values(), newest) if last == "hold" else None
    return {
        "inspections": inspections,
        "disposition": decided["kind"] if decided else last,
        "newest": newest,
        "decided": decided,
        "corrected_twice": any(inspection["corrected"] > 1 for inspection in inspections),
    }


def _apply_quarantine_decisions(events: list[RawEvent]) -> dict[str, RawEvent]:
    """Events by id as they count after every quarantine decision, in order.

    The decisions themselves are left out.

    A decision is about one content (`original_hash`) under an id, and the latest one about it
    stands. An accepted content (`body.event`) counts under its id from the place of its
    decision, the latest of several; a rejected content does not count; else the first one does.
    """
    decisions: dict[tuple[str, str], RawEvent] = {}
    for event in events:
        if event["kind"] == "quarantine_decision":
            target = (event["corrects"], event["body"]["original_hash"])
            decisions.pop(target, None)  # a later decision also takes the later place
            decisions[target] = event
    accepted = {
        event["corrects"]: event["id"]
        for event in decisions.values()
        if event["body"]["action"] == "accept"
    }
    by_id: dict[str, RawEvent] = {}
    for event in events:
        if event["kind"] == "quarantine_decision":
            if accepted.get(event["corrects"]) == event["id"]:
                by_id[event["corrects"]] = event["body"]["event"]
        elif event["id"] not in accepted and (event["id"], event.get("hash")) not in decisions:
            by_id.setdefault(event["id"], event)
    return by_id


def _find_root_id(event: RawEvent, by_id: Mapping[str, RawEvent]) -> str | None:
    """Id of the inspection that a correction or void leads back to, if it is known."""
    if event["kind"] not in ("correction", "void"):
        return None
    seen = set()
    target = by_id.get(event["corrects"])
    while target is not None and target["kind"] == "correction" and target["id"] not in seen:
        seen.add(target["id"])
        target = by_id.get(target["corrects"])
    return target["id"] if target is not None and target["kind"] == "inspection" else None


def _find_hold_decision(events: Iterable[RawEvent], newest: str | None) -> dict[str, Any] | None:
    """The last decision about the inspection as it stands: one about an earlier content, or about
    an inspection that is no longer the last, says nothing.
    """
    about = [one for one in events if one["kind"] == "hold_decision" and one["corrects"] == newest]
    if not about or about[-1]["body"]["disposition"]["kind"] == "hold":
        return None
    by, at, choice = (about[-1][key] for key in ("inspector", "captured_at", "body"))
    return {"by": by, "at": at, **choice["disposition"]}


def _build_effective(root: RawEvent, corrections: list[RawEvent]) -> dict[str, Any]:
    """The inspection as it counts now: who, when and what for stay, the body is the last one."""
    body = corrections[-1]["body"]["replacement"] if corrections else root["body"]
    photos = [photo for event in (root, *corrections) for photo in event["photos"]]
    return {
        "id": root["id"],
        "captured_at": root["captured_at"],
        "inspector": root["inspector"],
        "device_id": root["device_id"],
        "batch": root["batch"],
        "stove": root["stove"],
        "checklist_hash": root["checklist_hash"],
        "body": body,
        "corrected": len(corrections),
        "photos": list(dict.fromkeys(photos)),
    }
