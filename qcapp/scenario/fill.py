"""Events handed over as a phone hands them over: the same JSON, the same limits, in order."""

import json
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import Any

from qcapp.errors import QcappError

# The limits that a phone keeps to in one call (the server's own are the same).
MAX_EVENTS = 100
MAX_BYTES = 240_000
Json = dict[str, Any]
KEPT, HELD_BACK = ("created", "duplicate"), ("quarantined",)


def fill_yard(
    push: Callable[[Json], Json],
    events: Iterable[Json],
    clock: str,
    *,
    unsent: Mapping[str, int] | None = None,
    unopened: Collection[str] = (),
) -> Iterator[tuple[int, int]]:
    """Push all events, each device's own in its order; yields (done, total) after each call.

    push: takes a push request as a dict and gives the server's answer as a dict; the device
    is named in request["device"]["id"]. clock: the phones' time, UTC text. unsent: by device, so
    many records more it says that it has. unopened: batches whose records the server holds back.
    Raises QcappError when the server did not take an event as is expected.
    """
    by_device: dict[str, list[Json]] = defaultdict(list)
    for event in events:
        by_device[event["device_id"]].append(event)
    total = sum(map(len, by_device.values()))
    done = 0
    for device_id, own in by_device.items():
        # What went out in an earlier exchange was acknowledged.
        acked = own[0]["dev_seq"] - 1
        created = own[-1]["dev_seq"] + (unsent or {}).get(device_id, 0)
        for part in cut_to_size(own):
            request = {
                "protocol": 1,
                "request_id": f"{device_id}-{part[0]['dev_seq']}",
                "have": None,
                "device": {"id": device_id, "created": created, "acked": acked, "clock": clock},
                "events": part,
            }
            _check_answer(push(json.loads(json.dumps(request))), part, unopened)
            acked += len(part)
            done += len(part)
            yield done, total


def cut_to_size(events: list[Json]) -> Iterator[list[Json]]:
    """The events in order, in parts within both limits of one call."""
    part: list[Json] = []
    part_bytes = 0
    for event in events:
        event_bytes = len(json.dumps(event).encode())
        if part and (len(part) == MAX_EVENTS or part_bytes + event_bytes > MAX_BYTES):
            yield part
            part, part_bytes = [], 0
        part.append(event)
        part_bytes += event_bytes
    if part:
        yield part


def _check_answer(answer: Json, sent: list[Json], unopened: Collection[str]) -> None:
    """A missing outcome means not stored, as on the phone."""
    outcome_by_id = {result["id"]: result for result in answer["results"]}
    for event in sent:
        result = outcome_by_id.get(event["id"], {"outcome": "missing"})
        wanted = HELD_BACK if event.get("batch") in unopened else KEPT
        if result["outcome"] not in wanted:
            reason = result.get("reason") or result["outcome"]
            raise QcappError(
                f"an event was not kept: {reason}",
                event["id"],
                "correct the scenario or the checklist",
            )
