"""What became of every record of the week, from two sides: the phones' own records, and the log."""

import hashlib
import json
import sqlite3
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from sqlalchemy import func, select

from qcapp.inspection.event import canonical
from qcapp.inspection.signature import is_signed
from qcapp.store.queries.batch_figures import list_stoves
from qcapp.store.queries.overview import count_yard
from qcapp.store.registry.batches import list_batches
from qcapp.store.tables import TALLY
from qcapp.store.upkeep.audit import audit_store
from qcapp.sync.authorship import UNPROVEN
from qcapp.sync.device_states import list_devices_seen
from tests.sync.simulation.checker import read_whole_photos
from tests.sync.week.faults import describe
from tests.sync.week.play import Week
from tests.sync.week.records import expect_reason
from tests.sync.week.recount import Figures, recount
from tests.sync.week.yard import Key, WeekYard

KINDS = ("inspection", "correction", "void", "device_report")


class Stored(NamedTuple):
    seq: int
    id: str
    hash: str
    state: str
    reason: str | None
    raw: str
    signature: str | None
    device_id: str
    kind: str

    @property
    def key(self) -> Key:
        return self.id, self.hash

    @property
    def code(self) -> str | None:
        return json.loads(self.reason)["code"] if self.reason else None


def read_stored(path: Path) -> list[Stored]:
    """Every row of the log, the server's own too."""
    names = ", ".join(Stored._fields)
    connection = sqlite3.connect(path)
    try:
        return [Stored(*row) for row in connection.execute(f"SELECT {names} FROM log ORDER BY seq")]
    finally:
        connection.close()


@dataclass(frozen=True)
class Records:
    """What is in the log, and of it what phones made and what was forged.

    accepted: contents that count by a later proof. reasons: why each is held back, None where it
    counts. gone: records that were only on a phone that lost them.
    """

    log: list[Stored]
    from_phones: list[Stored]
    forged: list[Stored]
    accepted: set[str]
    reasons: Mapping[Key, str | None]
    gone: set[Key]


@dataclass(frozen=True)
class Reckoning:
    """rows: (words, number) of the table, by heading; identities: (words, one side, the other);
    faults: (words, how often played).
    """

    rows: Mapping[str, list[tuple[str, int]]]
    identities: list[tuple[str, Any, Any]]
    faults: list[tuple[str, int]]

    def list_broken(self) -> list[str]:
        return [
            f"{words}: {_tell_apart(one, other)}"
            for words, one, other in self.identities
            if one != other
        ]


def _tell_apart(one: Any, other: Any) -> str:
    """What only one side has, where sides have parts."""
    if isinstance(one, set):
        return f"only here {sorted(one - other)}, only there {sorted(other - one)}"
    if isinstance(one, dict):
        odd = [key for key in {**one, **other} if one.get(key) != other.get(key)]
        return "; ".join(f"{key}: {one.get(key)}, {other.get(key)}" for key in odd)
    return f"{one}, {other}"


def reckon(week: Week) -> Reckoning:
    """Raises nothing: what does not agree is an identity that does not hold."""
    records = _sort_records(week)
    wanted = {row.key: _expect(week, row.key) for row in (*records.from_phones, *records.forged)}
    figures = recount([week.made[row.key] for row in records.from_phones if not wanted[row.key]])
    sides = {
        **_compare_made(week, records),
        **_compare_log(week, records, wanted),
        **_compare_figures(week.yard, figures, wanted),
        **_compare_photos(week, records.from_phones),
        **_compare_phones(week, records.from_phones, wanted),
    }
    identities = [(words, *both) for words, both in sides.items()]
    return Reckoning(_count(week, records, figures), identities, describe(week.played))


def _sort_records(week: Week) -> Records:
    log = read_stored(week.yard.path)
    from_phones = [row for row in log if row.key in week.made]
    forged = [row for row in log if row.key in week.forged]
    accepted = _list_accepted(log)
    reasons = {
        row.key: None if row.state == "counted" or row.hash in accepted else row.code
        for row in (*from_phones, *forged)
    }
    gone = set().union(*(one.lost for one in week.gone))
    return Records(log, from_phones, forged, accepted, reasons, gone)


def _expect(week: Week, key: Key) -> str | None:
    return week.held_for.get(key) or expect_reason(week.made[key])


def _list_accepted(log: list[Stored]) -> set[str]:
    """Contents that count by a decision: here only by a proof that came later."""
    return {
        json.loads(row.raw)["body"]["original_hash"]
        for row in log
        if row.kind == "quarantine_decision"
    }


def _count(week: Week, records: Records, figures: Figures) -> dict[str, list]:
    return {
        "Made on phones": _count_made(week, records),
        "On the way": _count_arrivals(week.yard, {row.key for row in records.from_phones}),
        "In the log": _count_stored(week, records),
        "Photos": _count_photos(week, records),
        "Made by hand to deceive": _count_forged(week, records),
        "Figures of the yard, on the server and counted anew from the phones": sum_up(figures),
    }


def _count_made(week: Week, records: Records) -> list[tuple[str, int]]:
    made = Counter(event["kind"] for event in week.made.values())
    lost = "of them only on a phone whose browser then emptied it or put it back"
    return [
        *((words, made[kind]) for kind, words in zip(KINDS, KIND_WORDS, strict=True)),
        ("records made", len(week.made)),
        (lost, len(records.gone)),
    ]


def _count_arrivals(yard: WeekYard, honest: set[Key]) -> list[tuple[str, int]]:
    wire = sum(number for key, number in yard.arrived.items() if key in honest)
    by_file = sum(number for key, number in yard.by_file.items() if key in honest)
    return [
        ("arrivals of a record in a push", wire),
        ("arrivals of a record in a file", by_file),
        ("of both, arrivals of one that had come before", wire + by_file - len(honest)),
        ("records in pushes during which the server lost power", yard.cut_off),
        ("pushes answered", yard.pushes),
    ]


def _count_stored(week: Week, records: Records) -> list[tuple[str, int]]:
    rows = records.from_phones
    honest = {row.key for row in rows}
    return [
        ("records of phones, stored once", len(honest)),
        ("stored twice", len(rows) - len(honest)),
        ("lost", len(week.made) - len(honest) - len(records.gone)),
        ("altered", sum(not is_as_sealed(week, row) for row in rows)),
        ("signed by the phone that made it", sum(is_proven(week, row) for row in rows)),
        ("counting at once", sum(row.state == "counted" for row in rows)),
        (
            "held back, counting since its phone proved it",
            sum(row.hash in records.accepted for row in rows),
        ),
        *_count_reasons(records.reasons[row.key] for row in rows),
    ]


def _count_photos(week: Week, records: Records) -> list[tuple[str, int]]:
    named = {name for row in records.from_phones for name in week.made[row.key]["photos"]}
    whole = read_whole_photos(week.yard)
    return [
        ("photos that records name", len(named)),
        ("whole on the server", len(named & set(whole))),
        (
            "given up by a full phone after the server, which had them, was put back",
            len(find_photos_gone(week)),
        ),
        (
            "on a phone that was removed, refused there before (422)",
            len(_list_photos_removed(week, whole)),
        ),
    ]


def _count_forged(week: Week, records: Records) -> list[tuple[str, int]]:
    return [
        ("records forged", len(week.forged)),
        *_count_reasons(row.code for row in records.forged),
        ("of them counting", sum(records.reasons[row.key] is None for row in records.forged)),
    ]


def sum_up(figures: Figures) -> list[tuple[str, int]]:
    looks = [looks for looks, _, _ in figures.stoves.values()]
    kinds = Counter(disposition for _, _, disposition in figures.stoves.values())
    return [
        ("finished stoves", len(looks)),
        ("failed at the first inspection", sum(bad for _, bad, _ in figures.stoves.values())),
        *((f"of the stoves: {kind}", kinds[kind]) for kind in sorted(kinds)),
        ("inspections that count", sum(looks)),
        ("checks made", sum(made for made, _ in figures.checks.values())),
        ("checks failed", sum(failed for _, failed in figures.checks.values())),
    ]


KIND_WORDS = ("inspections", "corrections", "voids", "reports of a loss")


def _count_reasons(codes) -> list[tuple[str, int]]:
    found = Counter(code for code in codes if code)
    return [(f"held back: {code}", found[code]) for code in sorted(found)]


def is_as_sealed(week: Week, row: Stored) -> bool:
    """By the phone's own record, and by the hash over what is stored."""
    event = week.made[row.key]
    content = {key: value for key, value in json.loads(row.raw).items() if key != "hash"}
    return (
        row.raw.encode() == canonical(event)
        and hashlib.sha256(canonical(content)).hexdigest() == row.hash
    )


def is_proven(week: Week, row: Stored) -> bool:
    """By a public key that the phone itself holds or held."""
    keys = week.keys.get(row.device_id, ())
    return row.signature is not None and any(
        is_signed(row.hash, row.signature, key) for key in keys
    )


def _compare_made(week: Week, records: Records) -> dict[str, tuple]:
    """What was made, against what is stored."""
    stored = {row.key for row in records.from_phones}
    on_phones = {
        (row["id"], row["event"]["hash"])
        for phone in week.phones
        for row in phone.rows.values()
        if row["origin"] in ("own", "relay")
    }
    waiting = {
        (row["id"], row["event"]["hash"])
        for phone in week.phones
        if phone.number not in week.removed
        for row in phone.rows.values()
        if row["state"] in ("unsent", "relay")
    }
    return {
        "records made, and those stored with those gone with a phone": (
            set(week.made),
            stored | records.gone,
        ),
        "records on phones that the log lacks, and none": (on_phones - stored, set()),
        "records still waiting on phones in service, and none": (waiting, set()),
        "records that reached the server, and those stored": (
            {*week.yard.arrived, *week.yard.by_file},
            stored | set(week.forged),
        ),
        "records that phones report as lost, and those gone": (
            sorted(
                (event["body"]["device_id"], event["body"]["lost"])
                for event in week.made.values()
                if event["kind"] == "device_report"
            ),
            sorted((one.device_id, len(one.lost)) for one in week.gone),
        ),
    }


def _compare_log(week: Week, records: Records, wanted: Mapping) -> dict[str, tuple]:
    """What the log holds, against what it must hold."""
    log, rows = records.log, records.from_phones
    own = sum(row.device_id == "server" for row in log)
    return {
        "records in the log, and those made on phones, forged or the server's own": (
            len(log),
            len({row.key for row in rows}) + len(week.forged) + own,
        ),
        "why each record is held back, and why it must be": (records.reasons, wanted),
        "stored texts as the phones sealed them, and all": (
            sum(is_as_sealed(week, row) for row in rows),
            len(rows),
        ),
        "records signed by their phone, and all": (
            sum(is_proven(week, row) for row in rows),
            len(rows),
        ),
        "what the audit of the log finds, and nothing": (
            [str(one) for one in audit_store(week.yard.store).altered],
            [],
        ),
    }


def _compare_figures(yard: WeekYard, figures: Figures, wanted: Mapping) -> dict[str, tuple]:
    with yard.store.reading() as connection:
        stoves = {
            (row.batch, row.serial): (
                row.inspections,
                bool(row.has_first_pass_fail),
                row.disposition,
            )
            for batch in list_batches(connection)
            for row in list_stoves(connection, batch["code"])
        }
        sums = select(
            TALLY.c.name,
            TALLY.c.artisan,
            func.sum(TALLY.c.inspected),
            func.sum(TALLY.c.failed),
        ).where(TALLY.c.kind == "check")
        keys = (TALLY.c.name, TALLY.c.artisan)
        checks = {
            (name, artisan): (inspected, failed)
            for name, artisan, inspected, failed in connection.execute(sums.group_by(*keys))
        }
        whole = count_yard(connection, silent_before="2026-01-01T00:00:00.000Z")
    return {
        "stoves with their inspections, first pass and disposition": (stoves, figures.stoves),
        "checks made and failed, by artisan": (checks, figures.checks),
        "finished stoves of the yard": (whole["inspected"], len(figures.stoves)),
        "of them failed at the first pass": (
            whole["failed"],
            sum(failed for _, failed, _ in figures.stoves.values()),
        ),
        "records held back that wait for the lead": (
            whole["quarantined"],
            sum(reason is not None for reason in wanted.values()),
        ),
    }


def find_photos_gone(week: Week) -> set[str]:
    """Given up by a full phone because the server had them, before the phone could know that the
    server was put back to a time when it had not.
    """
    return (week.photos_given_up & week.photos_undone) - set(read_whole_photos(week.yard))


def _list_photos_removed(week: Week, whole: Mapping[str, bytes]) -> set[str]:
    """Which its last file did not bring: it carries photos that wait, not those refused."""
    return {
        name
        for phone in week.phones
        if phone.number in week.removed
        for name, photo in phone.photos.items()
        if photo["state"] == "refused" and name not in whole
    }


def _compare_photos(week: Week, from_phones: list[Stored]) -> dict[str, tuple]:
    named = {name for row in from_phones for name in week.made[row.key]["photos"]}
    whole = read_whole_photos(week.yard)
    return {
        "photos that records name, and whole ones on the server with those gone": (
            named,
            set(whole) | find_photos_gone(week) | _list_photos_removed(week, whole),
        ),
        "photos whose content gives their name, and all": (
            sum(hashlib.sha256(one).hexdigest() == name for name, one in whole.items()),
            len(whole),
        ),
    }


def _compare_phones(week: Week, from_phones: list[Stored], wanted: Mapping) -> dict[str, tuple]:
    """What nobody has proven to be a phone's is not among its records."""
    with week.yard.store.reading() as connection:
        seen = {one.id: one.stored for one in list_devices_seen(connection)}
    proven = (row.device_id for row in from_phones if wanted[row.key] not in UNPROVEN)
    own = Counter(proven)
    return {"records of each phone": ({name: seen.get(name, 0) for name in own}, dict(own))}
