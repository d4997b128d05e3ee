"""The promises about loss, each checked under its own name against what server and phones hold."""

import hashlib
import json
import math
import sqlite3
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import select

from qcapp.inspection.event import canonical, stove_key
from qcapp.inspection.stove import fold_stove
from qcapp.store import log
from qcapp.store.projections import stove_projection
from qcapp.store.tables import LOG
from qcapp.store.upkeep.audit_signatures import start_check
from qcapp.sync.authorship import UNPROVEN
from tests.sync.simulation.call import Answer, Call
from tests.sync.simulation.network import Outcome
from tests.sync.simulation.phone import Phone
from tests.sync.simulation.yard import LogRow, Yard

Key = tuple[str, str]
FINAL_OUTCOMES = {"created", "duplicate", "quarantined", "conflict"}
# State of what waits, by origin: made here, or taken from another phone's file to be sent on.
WAITING = {"own": "unsent", "relay": "relay"}
# What a phone notes of the way; no record's fate hangs on it.
NOTES = {"last_contact_at"}


class Broken(AssertionError):
    """A promise that did not hold; its number is that of PROMISES."""

    def __init__(self, number: int, what: str) -> None:
        self.number = number
        super().__init__(f"promise {number} ({PROMISES[number]}) is broken: {what}")


PROMISES = {
    1: "after quiet the server has what the phones have, each once",
    2: "the stored text is the text the phone sealed",
    3: "pushing again, splitting and merging change nothing but numbers",
    4: "numbers have no gaps and the running hash follows",
    5: "a cursor never passes an event that the phone has not stored",
    6: "a record stops waiting only by a named final outcome",
    7: "what a phone takes for kept is in the log at its position",
    8: "figures are those of a rebuild",
    9: "after a restore one exchange of each phone mends everything",
    10: "a clock may say anything",
    11: "unknown fields and another protocol lose nothing",
    12: "a gap in a phone's numbers is a lost record, and a lost record is reported",
    13: "photos change nothing, and a whole one hashes to its name",
    14: "an answer that is not of the protocol changes nothing",
    16: "who made a record is proven, and no forged one counts",
}


def expect(number: int, is_so: bool, what: str) -> None:
    if not is_so:
        raise Broken(number, what)


@dataclass
class Ledger:
    """What is true whatever phones and server believe.

    made: every event ever sealed, by (id, hash). owed: of phones that are gone, what the server has
    had without a break since. restores: how often the server went back. signed: records that count
    by their signature. unproven: those held back for want of one, "forged" or by their reason.
    """

    made: dict[Key, dict] = field(default_factory=dict)
    owed: set[Key] = field(default_factory=set)
    restores: int = 0
    reports: list[tuple[str, int]] = field(default_factory=list)
    photos_undone: set[str] = field(default_factory=set)
    signed: int = 0
    unproven: Counter[str] = field(default_factory=Counter)

    def note_made(self, event: dict) -> dict:
        self.made[event["id"], event["hash"]] = event
        return event


# --- after every step


@dataclass(frozen=True)
class Before:
    rows: Mapping[str, dict]
    meta: Mapping
    photos: Mapping[str, str]

    @classmethod
    def of(cls, phone: Phone) -> "Before":
        return cls(
            dict(phone.rows),
            {key: value for key, value in phone.meta.items() if key not in NOTES},
            {name: photo["state"] for name, photo in phone.photos.items()},
        )


def check_heard(before: Before, phone: Phone, call: Call, outcome: Outcome) -> None:
    """What one answer may have changed on the phone."""
    after, answer = Before.of(phone), outcome.answer
    if outcome.is_junk:
        expect(
            14,
            before == after,
            f"{call.method} {call.path} heard {answer and answer.text[:60]!r} and the phone"
            " changed",
        )
    settled = {
        key
        for key, row in before.rows.items()
        if is_waiting(row) and key in after.rows and not is_waiting(after.rows[key])
    }
    unnamed = settled and settled - _list_named(call, answer, before.rows)
    expect(6, not unnamed, f"{len(unnamed)} records stopped waiting, not named in the answer")


def _list_named(call: Call, answer: Answer | None, rows: Mapping[str, dict]) -> set[str]:
    """What an answer says the server has; of another phone's, a row pulled says it too."""
    if answer is None:
        return set()
    if call.path == "/api/sync/pull":
        pulled = {row["event"]["id"] for row in json.loads(answer.text)["events"]}
        return {key for key in pulled if key in rows and rows[key]["origin"] == "relay"}
    if call.path != "/api/sync/push":
        return set()
    asked = {event["id"] for event in call.json["events"]}
    return asked & {
        result["id"]
        for result in json.loads(answer.text)["results"]
        if result["outcome"] in FINAL_OUTCOMES
    }


def is_waiting(row: Mapping) -> bool:
    return row["state"] == WAITING.get(row["origin"])


def check_positions(phone: Phone, rows: list[LogRow]) -> None:
    """Cursor and position of a phone, where they are of this log's past.

    A row with number 0 is kept beside the log (only a shortcut does so).
    """
    chains = {row.seq: row.chain for row in rows if row.seq}
    seq, _, prefix = phone.meta.get("cursor", "").partition(":")
    if seq and chains.get(int(seq), "")[:16] == prefix:
        missed = [row.seq for row in rows if 0 < row.seq <= int(seq) and not _holds(phone, row)]
        expect(5, not missed, f"{phone.name} is at {seq} and never stored {missed}")
    have = phone.meta.get("have")
    if have and chains.get(have["seq"]) == have["chain"]:
        there = {(row.id, row.hash) for row in rows if row.seq <= have["seq"]}
        gone = {
            key_of(row)
            for row in phone.rows.values()
            if row["origin"] in WAITING and not is_waiting(row)
        } - there
        expect(
            7,
            not gone,
            f"{phone.name} takes {len(gone)} records for kept that are not in the log at"
            f" {have['seq']}",
        )


def key_of(row: Mapping) -> Key:
    return row["id"], row["event"]["hash"]


def _holds(phone: Phone, row: LogRow) -> bool:
    """Whether the phone has what this log row would give it; its own are not given back."""
    if row.is_trail or row.device_id == phone.meta.get("device_id"):
        return True
    known = phone.rows.get(row.id)
    return known is not None and (
        row.state == "conflict"
        # What came under its id before it, and was proven to be nobody's.
        or (row.state == "quarantined" and (known.get("seq") or 0) > row.seq)
        or known["origin"] in WAITING
        or known["event"]["hash"] == row.hash
    )


# --- after quiet


def check_log(
    yard: Yard, ledger: Ledger, phones: Iterable[Phone], rows: list[LogRow], oversize: set[Key]
) -> None:
    keys = [(row.id, row.hash) for row in rows]
    twice = [key for key, count in Counter(keys).items() if count > 1]
    expect(1, not twice, f"{len(twice)} events are kept more than once")
    on_phones = {
        key_of(row) for phone in phones for row in phone.rows.values() if row["origin"] in WAITING
    }
    missing = (on_phones | ledger.owed) - oversize - set(keys)
    number = 9 if ledger.restores else 1
    expect(
        number,
        not missing,
        f"the server lacks {len(missing)} of {len(on_phones)} events: {sorted(missing)[:2]}",
    )
    sealed = [row for row in rows if row.device_id != "server"]
    invented = {(row.id, row.hash) for row in sealed} - set(ledger.made)
    expect(1, not invented, f"{len(invented)} events on the server were never made")
    waiting = {
        key_of(row) for phone in phones for row in phone.rows.values() if is_waiting(row)
    } - oversize
    expect(1, not waiting, f"{len(waiting)} records still wait after quiet")
    for row in sealed:
        event = ledger.made[row.id, row.hash]
        expect(
            2,
            row.raw.encode() == canonical(event) and row.dev_seq == event["dev_seq"],
            f"number {row.seq} is not what was sealed",
        )
    with yard.store.reading() as connection:
        broken = log.find_broken_link(connection)
        expect(4, broken is None, f"the running hash does not follow at {broken}")
    expect(
        4,
        [row.seq for row in rows if row.seq]
        == list(range(1, 1 + sum(row.seq > 0 for row in rows))),
        "numbers are not 1, 2, 3 ...",
    )


FIGURES = (
    (
        "SELECT stove_key, stage, serial, batch, size, disposition, inspections,"
        " has_first_pass_fail, is_corrected_twice, last_at FROM stove"
    ),
    (
        "SELECT event_id, stove_key, is_first_pass, inspector, device_id, captured_at,"
        " i.disposition, reason, differences FROM inspection i JOIN stove s ON s.no = i.stove_no"
    ),
    (
        "SELECT event_id, checklist_hash, check_id, part, step, severity, artisan, verdict,"
        " is_fail, fault, value FROM result r JOIN inspection i ON i.no = r.inspection_no JOIN"
        " check_key c ON c.no = r.check_no"
    ),
    "SELECT * FROM tally",
)


def read_figures(path: Path) -> list[list[tuple]]:
    """Every row that a figure is counted from, by what it means instead of by its row number."""
    connection = sqlite3.connect(path)
    try:
        return [sorted(connection.execute(query), key=repr) for query in FIGURES]
    finally:
        connection.close()


def check_figures(yard: Yard) -> None:
    shown = read_figures(yard.path)
    with yard.store.writing() as connection:
        stove_projection.rebuild(connection)
    rebuilt = read_figures(yard.path)
    expect(8, shown == rebuilt, f"shown {shown}, rebuilt {rebuilt}")


def check_views(phone: Phone, rows: list[LogRow]) -> None:
    """The phone holds every row of the others, and sees each stove as the server does."""
    missed = [row.seq for row in rows if row.seq and not _holds(phone, row)]
    expect(5, not missed, f"{phone.name} never got {missed}")
    stoves, odd = defaultdict(list), set()
    for row in rows:
        event = json.loads(row.raw)
        if row.state != "counted":
            odd.add(event["stove"])
        stoves[event["stove"]].append(event)
    for stove, events in stoves.items():
        if stove is None or stove in odd:
            continue
        key = stove_key("finished", stove)
        mine = [row for row in phone.rows.values() if row["key"] == key]
        if {row["id"] for row in mine} != {event["id"] for event in events}:
            # A copy of what a phone that is gone had made, and the restored server no longer has.
            continue
        shown = fold_stove(row["event"] for row in sorted(mine, key=_place))
        expect(
            5, shown == fold_stove(events), f"{phone.name} sees {stove} otherwise than the server"
        )


def _place(row: Mapping) -> tuple:
    """compareRows of outbox.js as a key."""
    return (row.get("seq") or 0, row["origin"] == "own", row["event"]["dev_seq"])


def check_authors(yard: Yard, ledger: Ledger, phones: Iterable[Phone]) -> None:
    """Every signature holds, and what a phone made itself is held back for none."""
    with yard.store.reading() as connection:
        signatures, found = start_check(connection), []
        query = select(LOG).where(LOG.c.seq > 0).order_by(LOG.c.seq)
        records = [log.LogRecord(*row) for row in connection.execute(query)]
        for record in records:
            found += [f"record {record.seq}: {what}" for what in signatures.find_unfit(record)]
        found += [f"{name}: {what}" for name, what in signatures.find_unfit_keys(connection)]
        decided = log.list_decided_hashes(connection)
    expect(16, not found, "; ".join(found))
    unproven = {
        (record.id, record.hash): record
        for record in records
        if record.state == "quarantined"
        and json.loads(record.reason or "{}").get("code") in UNPROVEN
        and record.hash not in decided
    }
    ledger.signed += signatures.signed
    ledger.unproven.update(
        "forged"
        if ledger.made[key]["app_build"] == "altered"
        else json.loads(record.reason or "{}")["code"]
        for key, record in unproven.items()
    )
    own = {
        key_of(row)
        for phone in phones
        for row in phone.rows.values()
        if row["origin"] == "own" and row["event"]["app_build"] != "altered"
    }
    held = [f"{unproven[key].seq}: {unproven[key].reason}" for key in own & set(unproven)]
    expect(16, not held, f"held back for want of a proof: {held}")
    known = _find_when_known(yard, records)
    forged = [
        record.seq
        for record in records
        if record.state == "counted" and json.loads(record.raw).get("app_build") == "altered"
        # An id of which the server never heard is the sender's own: see PROMISES.md.
        if known.get(record.device_id, math.inf) < record.seq
    ]
    expect(16, not forged, f"{forged} count, and another phone than theirs made them")


def _find_when_known(yard: Yard, records: Iterable[log.LogRecord]) -> dict[str, int]:
    """When a phone's id came to be its own, by its joining or its first key: log numbers by id."""
    found = dict.fromkeys(yard.devices, 0)
    for record in records:
        event = json.loads(record.raw)
        if event["kind"] == "trail" and event["body"]["action"] in ("phone_joined", "phone_key"):
            found.setdefault(event["body"]["about"]["device"], record.seq)
    return found


def check_numbers(ledger: Ledger, rows: list[LogRow]) -> None:
    arrived, made = defaultdict(list), defaultdict(set)
    for row in rows:
        if row.state != "conflict":
            arrived[row.device_id].append(row.dev_seq)
    for event in ledger.made.values():
        if event["app_build"] != "altered":
            made[event["device_id"]].add(event["dev_seq"])
    for device, numbers in arrived.items():
        gaps = set(range(1, max(numbers) + 1)) - set(numbers)
        lost = {number for number in made[device] - set(numbers) if number < max(numbers)}
        expect(12, gaps == lost, f"{device}: gaps {sorted(gaps)}, lost {sorted(lost)}")
    if ledger.restores == 0:
        said = {
            event["body"]["device_id"]: event["body"]["lost"]
            for event in ledger.made.values()
            if event["kind"] == "device_report"
        }
        for device, lost in ledger.reports:
            expect(
                12,
                said.get(device, -1) >= lost,
                f"{device} lost {lost} and reported {said.get(device)}",
            )


def read_whole_photos(yard: Yard) -> dict[str, bytes]:
    connection = sqlite3.connect(yard.path)
    try:
        return dict(connection.execute("SELECT sha256, content FROM photo WHERE is_whole"))
    finally:
        connection.close()


def check_photos(yard: Yard, ledger: Ledger, phones: Iterable[Phone]) -> None:
    whole = read_whole_photos(yard)
    for name, content in whole.items():
        expect(
            13, hashlib.sha256(content).hexdigest() == name, f"{name[:8]} does not hash to its name"
        )
    for phone in phones:
        used = {name for row in phone.rows.values() for name in row["event"]["photos"]}
        missing = {
            name for name in used & set(phone.photos) if name not in whole
        } - ledger.photos_undone
        expect(13, not missing, f"{len(missing)} photos of {phone.name} never arrived")
