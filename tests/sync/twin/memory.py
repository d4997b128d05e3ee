"""What a phone keeps, in Python: a line-by-line reading of static/phone/js/store/local_db.js and
outbox.js.

The fault tests use it because tens of thousands of exchanges in a browser would take a day;
tests/sync/test_twin.py and tests/e2e/core/test_twin.py hold it against the real modules.
"""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from qcapp.inspection.event import build_uuid7, event_hash, stove_key

FINAL_STATES = {"created": "sent", "duplicate": "sent", "quarantined": "shown", "conflict": "shown"}
# State of what waits, by origin: made here, or taken from another phone's file to be sent on.
WAITING = {"own": "unsent", "relay": "relay"}
KEPT_DAYS = 90
KEPT_RECORDS = 5000
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
ABSENT = {
    "batch": None,
    "stage": None,
    "stove": None,
    "checklist": None,
    "checklist_hash": None,
    "body": {},
    "photos": [],
    "corrects": None,
}


def is_same_position(one: Mapping | None, other: Mapping | None) -> bool:
    one, other = one or {}, other or {}
    return one.get("seq") == other.get("seq") and one.get("chain") == other.get("chain")


def settle_row(row: Mapping, result: Mapping, head: int) -> dict:
    """The row after an outcome: only a named, final one ends the waiting."""
    outcome, reason = result["outcome"], result.get("reason")
    state = FINAL_STATES.get(outcome)
    named = {key: value for key, value in row.items() if key != "reason"}
    named |= {"outcome": outcome, **({"reason": reason} if reason else {})}
    if state is None:
        return named
    places = (result.get("seq"), row.get("seq"), head)
    return {**named, "state": state, "seq": next(place for place in places if place is not None)}


def is_waiting(row: Mapping | None) -> bool:
    return row is not None and row["state"] == WAITING.get(row["origin"])


def judge_loss(canary: Mapping | None, device_id: str | None, dev_seq: int) -> dict | None:
    if not canary:
        return None
    is_same = canary.get("device_id") == device_id
    if is_same and canary["created"] <= dev_seq:
        return None
    kept = max(canary.get("acked") or 0, dev_seq if is_same else 0)
    return {
        **canary,
        "lost": max(0, canary["created"] - kept),
        "is_reported": False,
        "is_seen": False,
    }


def as_iso(milliseconds: int) -> str:
    moment = EPOCH + timedelta(milliseconds=milliseconds)
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{moment.microsecond // 1000:03}Z".rjust(24, "0")


@dataclass
class Memory:
    """One phone's database and canary; lives on when its pages are closed.

    clock: milliseconds since 1970 as this phone believes. random_bits: 80 of them, fresh.
    """

    clock: Callable[[], int]
    random_bits: Callable[[], int]
    meta: dict[str, Any] = field(default_factory=dict)
    rows: dict[str, dict] = field(default_factory=dict)
    photos: dict[str, dict] = field(default_factory=dict)
    canary: dict | None = None
    is_started: bool = False

    # --- this phone

    def start_device(self) -> None:
        self.is_started = True
        loss = judge_loss(self.canary, self.meta.get("device_id"), self.meta.get("dev_seq", 0))
        if "device_id" not in self.meta or loss:
            self.meta |= {
                "device_id": build_uuid7(max(0, self.clock()), self.random_bits()),
                "dev_seq": 0,
            }
            if loss and loss["created"]:
                self.meta["loss"] = loss
        self.note_canary(device_id=self.meta["device_id"], created=self.meta["dev_seq"])

    def note_canary(self, **change) -> None:
        before = self.canary or {}
        same = (
            before if before.get("device_id") == change["device_id"] else {"created": 0, "acked": 0}
        )
        created = max(same["created"], change.get("created", 0))
        self.canary = {**same, **change, "created": created}

    def record(self, **fields) -> dict:
        """Seals and keeps an event, as sealAndKeep does in one transaction."""
        if not self.is_started:
            self.start_device()
        now = self.clock()
        content = {
            **ABSENT,
            "id": build_uuid7(max(0, now), self.random_bits()),
            "captured_at": as_iso(now),
            "tz_min": 0,
            "app_build": "twin",
            **fields,
            "device_id": self.meta["device_id"],
            "dev_seq": self.meta["dev_seq"] + 1,
        }
        event = {**content, "hash": event_hash(content)}
        self.meta["dev_seq"] += 1
        self.rows[event["id"]] = {
            "id": event["id"],
            "key": key_of(event),
            "event": event,
            "origin": "own",
            "state": "unsent",
        }
        self.note_canary(
            device_id=event["device_id"],
            created=event["dev_seq"],
            last_saved_at=event["captured_at"],
        )
        return event

    def record_loss(self) -> None:
        loss = self.meta.get("loss")
        if not loss or loss["is_reported"]:
            return
        body = {
            key: loss.get(key) for key in ("device_id", "created", "acked", "lost", "last_saved_at")
        }
        self.record(kind="device_report", inspector="-", body=body)
        self.meta["loss"] = {**loss, "is_reported": True}

    def save_photo(self, content: bytes) -> str:
        name = hashlib.sha256(content).hexdigest()
        self.photos.setdefault(name, {"bytes": content, "state": "unsent"})
        return name

    def offer_refused_photos(self) -> None:
        """What "send now" does for photos that the server would not take."""
        for photo in self.photos.values():
            photo["state"] = "unsent" if photo["state"] == "refused" else photo["state"]

    # --- reading

    def list_unsent(self, count: int | None = None) -> list[dict]:
        """What waits, this phone's own first, in order of making."""
        waiting = [row for row in self.rows.values() if is_waiting(row)]
        return sorted(
            waiting, key=lambda row: (row["origin"] != "own", row["event"]["dev_seq"], row["id"])
        )[:count]

    def count_unsent(self) -> int:
        """Own records only."""
        return sum(row["state"] == WAITING["own"] for row in self.rows.values())

    def take_relayed(self, sealed: list[dict]) -> int:
        """Another phone's sealed events, to be sent on as they are;
        gives how many were new here.
        """
        fresh = [event for event in sealed if event["id"] not in self.rows]
        for event in fresh:
            self.rows[event["id"]] = {
                "id": event["id"],
                "key": key_of(event),
                "event": event,
                "origin": "relay",
                "state": WAITING["relay"],
            }
        return len(fresh)

    def list_unsent_photos(self) -> list[str]:
        uses = {
            name: min(
                (row["id"] for row in self.rows.values() if name in row["event"]["photos"]),
                default=None,
            )
            for name, photo in self.photos.items()
            if photo["state"] == "unsent"
        }
        return [
            name
            for _use, name in sorted(
                ((use, name) for name, use in uses.items() if use), reverse=True
            )
        ]

    # --- what the server said

    def acknowledge(
        self, results: list, asked_ids: set[str], asked_have: Mapping | None, head: dict
    ) -> list[str] | None:
        """Ids settled; None when the answer came late."""
        if not is_same_position(self.meta.get("have"), asked_have):
            return None
        settled = []
        for result in results:
            row = self.rows.get(result.get("id")) if result.get("id") in asked_ids else None
            if not is_waiting(row) or not isinstance(result.get("outcome"), str):
                continue
            self.rows[row["id"]] = settle_row(row, result, head["seq"])
            if not is_waiting(self.rows[row["id"]]):
                settled.append(row["id"])
        self.meta["have"] = head
        return settled

    def merge_pulled(
        self, rows: list, cursor: str, asked_have: Mapping | None, asked_cursor: str
    ) -> bool:
        """Whether it came late; else rows and cursor are kept together."""
        if self.meta.get("cursor", "") != asked_cursor or not is_same_position(
            self.meta.get("have"), asked_have
        ):
            return True
        for row in rows:
            event = row["event"]
            if not isinstance(event, dict) or not all(
                isinstance(event.get(key), str) for key in ("id", "kind")
            ):
                continue
            known = self.rows.get(event["id"])
            if known and row["state"] == "conflict":
                continue
            pulled = {
                "id": event["id"],
                "key": key_of(event),
                "event": event,
                "state": "sent",
                "outcome": row["state"],
                "seq": row["seq"],
                "origin": known["origin"] if known else "other",
            }
            # Another body than the server's own still has to be handed in, to be kept beside it.
            is_mine = known and (
                known["origin"] == "own"
                or (is_waiting(known) and known["event"]["hash"] != event["hash"])
            )
            self.rows[event["id"]] = {**known, "seq": row["seq"]} if is_mine else pulled
        self.meta["cursor"] = cursor
        return False

    def meet_server(self, server_id: str) -> None:
        known = self.meta.get("server_id")
        if known and known != server_id:
            self.forget_acknowledgements(server_id)
        self.meta["server_id"] = server_id

    def forget_acknowledgements(self, server_id: str | None = None) -> None:
        for key, row in list(self.rows.items()):
            rest = {name: value for name, value in row.items() if name not in ("outcome", "reason")}
            if row["origin"] in WAITING:
                self.rows[key] = {**rest, "state": WAITING[row["origin"]]}
            elif server_id:
                del self.rows[key]
        for photo in self.photos.values():
            photo["state"] = "unsent"
        self.meta.pop("have", None)
        self.meta.pop("cursor", None)

    def prune_records(self) -> None:
        limit = as_iso(max(0, self.clock() - KEPT_DAYS * 86_400_000))
        spare = len(self.rows) - KEPT_RECORDS
        for row in sorted(self.rows.values(), key=lambda row: row["event"].get("captured_at", "")):
            if spare <= 0 or row["event"].get("captured_at", "") >= limit or is_waiting(row):
                return
            del self.rows[row["id"]]
            spare -= 1


def key_of(event: Mapping) -> str | None:
    if event.get("kind") == "study_answer":
        return event["body"].get("study")
    return (
        stove_key(event["stage"], event["stove"])
        if event.get("stage") and event.get("stove")
        else None
    )
