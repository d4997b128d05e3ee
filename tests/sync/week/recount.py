"""The yard's figures, counted from what the phones hold: plain sums, without the server's fold,
judge or tallies. Only the order of two corrections of one record is taken from the log.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from tests.sync.week.records import find_failed, get_body

Event = Mapping[str, Any]


@dataclass(frozen=True)
class Figures:
    """stoves: {(batch, serial): (inspections, failed at the first, disposition)}; checks:
    {(check, artisan): (inspected, failed)} over all inspections.
    """

    stoves: Mapping[tuple[str, str], tuple[int, bool, str]]
    checks: Mapping[tuple[str, str], tuple[int, int]]


def recount(events: Iterable[Event]) -> Figures:
    """events: that count, in the order in which the server numbered them."""
    events = list(events)
    inspections = _apply_changes(events)
    stoves: dict[tuple[str, str], list[Event]] = {}
    for one in sorted(inspections, key=_by_time):
        stoves.setdefault((one["batch"], one["stove"]), []).append(one)
    inspected: Counter[tuple[str, str]] = Counter()
    failed: Counter[tuple[str, str]] = Counter()
    for one in inspections:
        maker = next(iter(one["body"]["crew"].values()))
        for check, is_failed in find_failed(one["body"]).items():
            inspected[check, maker] += 1
            failed[check, maker] += is_failed
    return Figures(
        {
            stove: (
                len(looks),
                any(find_failed(looks[0]["body"]).values()),
                looks[-1]["body"]["disposition"]["kind"],
            )
            for stove, looks in stoves.items()
        },
        {key: (inspected[key], failed[key]) for key in inspected},
    )


def _apply_changes(events: list[Event]) -> list[Event]:
    """Inspections with the body of their last correction, without those that were voided."""
    voided = {event["corrects"] for event in events if event["kind"] == "void"}
    bodies = {event["corrects"]: get_body(event) for event in events if is_correction(event)}
    return [
        {**event, "body": bodies.get(event["id"], event["body"])}
        for event in events
        if event["kind"] == "inspection" and event["id"] not in voided
    ]


def is_correction(event: Event) -> bool:
    return event["kind"] == "correction"


def _by_time(event: Event) -> tuple:
    return event["captured_at"], event["device_id"], event["dev_seq"]
