"""The demo's stoves on their whole way: some of the newest closed batch get the records of every
earlier stage, and the yard its notes of hours.

What an earlier stage passes and the finished stove then shows is what its inspectors let through.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from random import Random
from typing import Any

from qcapp.checklist.history import list_works
from qcapp.checklist.model import Checklist
from qcapp.inspection.event import EventContent, build_uuid7, stove_key
from qcapp.inspection.judge import counts_as_fail, judge_answers
from qcapp.inspection.pieces import LOAD_STAGE
from qcapp.scenario.draw import AnswerDrawer, Maker
from qcapp.scenario.model import Scenario, ScenarioBatch, utc_text
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.registry.checklists import list_current_checklists
from qcapp.sync.photos import receive_whole
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.fill_demo_photos import measure_in_photo
from qcapp.usecases.push_demo_records import push_demo_records

PIECES, LOADS = 16, 2
# Stages whose grates some are measured of in a photo.
IN_PHOTO = ("green-liner", "fired-liner")
DEVICE = "demo-phone-stages"
MAX_DRAWS = 400
# What the judge says of a reading that no tool can have shown.
IMPOSSIBLE = "impossible"
# Who rolled or moulded a piece is named at the finished stove; an earlier stage names those alone,
# so that its few good pieces say nothing about the people of the planted causes.
NAMED_TRADES = ("firing", "assembly")
# Of a kiln load: more than the liners that are followed here.
LOAD_COUNTS = {"liners-in": "38", "liners-sound": "36", "liners-cracked": "1"}
LOAD_ADDED = "kiln load added from the kiln log"
# Days before the finished stove's inspection (a kiln load: the first one's, less its number), so
# that nothing is fired before it was formed nor bedded before it was fired; a liner that the batch
# has already is not made anew.
DAYS_BEFORE = {
    "blanks": 15,
    "green-liner": 14,
    "firing": 8,
    "fired-liner": 5,
    "cladding": 9,
    "bedding": 2,
}
# (step or None, trade, hours a piece): what the yard wrote down for the batch.
HOURS = (
    (None, "metalwork", "2.5"),
    ("cut-door-opening", "metalwork", "0.2"),
    ("bed-liner", "assembly", "0.4"),
)


@dataclass(frozen=True)
class _Place:
    """Where one record belongs. made_from: serials of pieces, by stage."""

    checklist: Checklist
    serial: str
    at: datetime
    made_from: Mapping[str, str]


class _WayMaker:
    """Makes good records of earlier stages for stoves that are recorded already."""

    def __init__(
        self,
        scenario: Scenario,
        batch: ScenarioBatch,
        checklists: Sequence[Checklist],
        liners: Mapping[str, Mapping[str, Any]],
    ) -> None:
        """liners: by serial, the first inspection of those that the stoves name already."""
        self.scenario, self.batch, self.liners = scenario, batch, liners
        self.by_stage = {one.stage: one for one in checklists}
        self.rng = Random(f"{scenario.seed}/way")  # noqa: S311 -- an invented yard
        # Apart, so that a photo more or less changes nothing else.
        self.photo_rng = Random(f"{scenario.seed}/photos")  # noqa: S311 -- as above
        self.pictures: dict[str, bytes] = {}
        self.records: list[EventContent] = []

    def follow(self, number: int, stove: Mapping[str, Any]) -> None:
        """All earlier records of one finished stove. stove: its first inspection."""
        finished = datetime.fromisoformat(stove["captured_at"])
        given = _find_liner(stove)
        liner = given or f"{self.batch.code}-W{number:03d}"
        load = f"{self.batch.code}-K{1 + number % LOADS:03d}"
        blanks = f"{self.batch.code}-S{number:03d}"
        made = {
            "blanks": (blanks, {}),
            "cladding": (stove["stove"], {"blanks": blanks}),
            "green-liner": (liner, {}),
            "fired-liner": (liner, {LOAD_STAGE: load}),
            "bedding": (stove["stove"], {"fired-liner": liner}),
        }
        by_trade = self._find_crew(stove)
        for stage, (serial, made_from) in made.items():
            if stage == "fired-liner" and given:
                self._add_load(given, load)
                continue
            at = finished - timedelta(days=DAYS_BEFORE[stage], minutes=7 * number)
            place = _Place(self.by_stage[stage], serial, at, made_from)
            self.records.append(self._inspect(place, by_trade))

    def _add_load(self, liner: str, load: str) -> None:
        """Corrects a liner that was inspected without its load; one corrected before is left."""
        inspection = self.liners.get(liner)
        if inspection is None:
            return
        at = datetime.fromisoformat(inspection["captured_at"]) + timedelta(hours=6)
        place = _Place(self.by_stage["fired-liner"], inspection["stove"], at, {})
        body = {**inspection["body"], "made_from": {LOAD_STAGE: load}}
        made = self._write("correction", place, {"reason": LOAD_ADDED, "replacement": body})
        self.records.append(replace(made, corrects=inspection["id"]))

    def fire(self, number: int, first: Mapping[str, Any]) -> None:
        """One kiln load. first: the batch's first finished stove."""
        opened = datetime.fromisoformat(first["captured_at"])
        at = opened - timedelta(days=DAYS_BEFORE["firing"] + number)
        serial = f"{self.batch.code}-K{number:03d}"
        place = _Place(self.by_stage[LOAD_STAGE], serial, at, {})
        self.records.append(self._inspect(place, self._find_crew(first)))

    def _find_crew(self, stove: Mapping[str, Any]) -> dict[str, str]:
        """By trade, as the finished stove's record has it; else the batch's own."""
        steps = self.by_stage["finished"].step_by_id
        usual = {trade: pool[0] for trade, pool in self.batch.crew_pool.items()}
        return usual | {
            steps[step].trade: code for step, code in stove["body"]["crew"].items() if step in steps
        }

    def _inspect(self, place: _Place, by_trade: Mapping[str, str]) -> EventContent:
        counts = LOAD_COUNTS if place.checklist.stage == LOAD_STAGE else {}
        answers = self._draw_good(place.checklist) | {
            check: {"values": [count]} for check, count in counts.items()
        }
        context = {"size": self.batch.size, "batch": dict(self.batch.attributes)}
        if place.checklist.stage in IN_PHOTO:
            answers |= self._photograph(place.checklist, answers, context)
        judged = judge_answers(place.checklist, answers, context)
        steps = place.checklist.steps
        body = {
            "size": self.batch.size,
            "batch_attributes": dict(self.batch.attributes),
            "started_at": utc_text(place.at - timedelta(seconds=95)),
            "crew": {one.id: by_trade[one.trade] for one in steps if one.trade in NAMED_TRADES},
            "answers": answers,
            "verdicts": {key: found.verdict for key, found in judged.items()},
            "disposition": {"kind": "release"},
            **({"made_from": dict(place.made_from)} if place.made_from else {}),
        }
        return self._write("inspection", place, body)

    def _photograph(
        self, checklist: Checklist, answers: Mapping[str, Any], context: Mapping[str, Any]
    ) -> dict[str, Any]:
        """Three of four liners' grates."""
        if self.photo_rng.randrange(4) == 0:
            return {}
        taken, pictures = measure_in_photo(checklist, answers, context, self.photo_rng)
        self.pictures |= pictures
        return taken

    def _draw_good(self, checklist: Checklist) -> dict[str, Any]:
        """Answers that pass, each check drawn again until it does."""
        drawer = AnswerDrawer(self.rng, self.scenario.habits, (), self.batch.size, 0, True)
        context = {"size": self.batch.size, "batch": dict(self.batch.attributes)}
        answers: dict[str, Any] = {}
        asked = [one.id for one in checklist.checks if one.answer_key]
        for _draw in range(MAX_DRAWS):
            for check_id in asked:
                drawn = drawer.draw(checklist.check_by_id[check_id], Maker(None, 0))
                answers |= {check_id: drawn} if drawn else {}
            judged = judge_answers(checklist, answers, context)
            asked = [
                name
                for one in checklist.checks
                if counts_as_fail(one, judged[one.id].verdict)
                or judged[one.id].reason == IMPOSSIBLE
                for name in _list_inputs(checklist, one.id)
            ]
            if not asked:
                return answers
        raise LookupError(f"no good answers to {checklist.id}: {asked}")

    def _write(self, kind: str, place: _Place, body: Mapping[str, Any]) -> EventContent:
        answers = body.get("answers", {}).values()
        photos = list(dict.fromkeys(name for one in answers for name in one.get("photos", ())))
        return EventContent(
            id=build_uuid7(int(place.at.timestamp() * 1000), self.rng.getrandbits(80)),
            kind=kind,
            device_id=DEVICE,
            dev_seq=1,
            inspector=self.scenario.devices[0].inspector,
            captured_at=utc_text(place.at),
            app_build=self.scenario.app_build,
            body=body,
            photos=tuple(photos),
            batch=self.batch.code,
            stage=place.checklist.stage,
            stove=place.serial,
            checklist=place.checklist.key,
            checklist_hash=place.checklist.hash,
            tz_min=self.scenario.yard.tz_min,
        )


def _list_inputs(checklist: Checklist, check_id: str) -> list[str]:
    """A calculated check asks for its inputs anew."""
    inputs = getattr(checklist.check_by_id[check_id], "inputs", ())
    return [name for one in inputs for name in _list_inputs(checklist, one)] or [check_id]


def fill_demo_way(store: Store, scenario: Scenario, today: date, now: datetime) -> None:
    """Once the finished stoves are there; a second call adds nothing."""
    closed = [one for one in scenario.batches if one.closed_days_ago is not None]
    with store.reading() as connection:
        checklists = list_current_checklists(connection)
        is_done = bool(log.list_by_kind(connection, "work_hours"))
    if is_done or not closed:
        return
    batch = min(closed, key=lambda one: one.closed_days_ago or 0)
    stoves = _list_finished(store, batch)
    maker = _WayMaker(scenario, batch, checklists, _find_liners(store, stoves))
    for number, stove in enumerate(stoves, start=1):
        maker.follow(number, stove)
    for number in range(1, LOADS + 1):
        maker.fire(number, stoves[0])
    push_demo_records(store, maker.records, name="Phone at the earlier stages", now=now)
    for name, content in maker.pictures.items():
        receive_whole(store, name, content, sender=None, now=now)
    _note_hours(store, batch, list_works(checklists), today, now)


def _list_finished(store: Store, batch: ScenarioBatch) -> list[dict[str, Any]]:
    """First inspections of the batch's first stoves, as they came."""
    keys = [
        stove_key("finished", f"{batch.serial_prefix}{number:03d}")
        for number in range(1, min(PIECES, batch.inspected) + 1)
    ]
    with store.reading() as connection:
        events = log.list_stove_events(connection, keys)
    return [
        min(inspections, key=lambda event: event["captured_at"])
        for key in keys
        if (inspections := [one for one in events[key] if one["kind"] == "inspection"])
    ]


def _find_liner(stove: Mapping[str, Any]) -> str | None:
    """The liner's serial that the stove's record names."""
    found: str | None = (stove["body"].get("made_from") or {}).get("fired-liner")
    return found


def _find_liners(store: Store, stoves: Sequence[Mapping[str, Any]]) -> dict[str, dict[str, Any]]:
    """By serial, those inspected once and never corrected or voided by another phone."""
    serials = {stove_key("fired-liner", one): one for one in map(_find_liner, stoves) if one}
    with store.reading() as connection:
        events = log.list_stove_events(connection, list(serials))
    others = {
        key: [one for one in own if one["device_id"] != DEVICE] for key, own in events.items()
    }
    return {serials[key]: own[0] for key, own in others.items() if len(own) == 1}


def _note_hours(
    store: Store, batch: ScenarioBatch, works: Mapping[str, Any], today: date, now: datetime
) -> None:
    since = today - timedelta(days=batch.opened_days_ago)
    until = since + timedelta(days=batch.work_days)
    for step, trade, each in HOURS:
        if step is not None and step not in works:
            continue
        body = {
            "step": step,
            "artisans": sorted(batch.crew_pool[trade]),
            "hours": f"{float(each) * batch.inspected:.1f}",
            "pieces": batch.inspected,
            "since": since.isoformat(),
            "until": until.isoformat(),
        }
        record_server_event(store, kind="work_hours", recorder="yard lead", body=body, now=now)
