"""The demo's bench: templates and gauges with their checks, first pieces, a lesson with drawings.

One gauge is late, another due on the day that the demo is shown; the late one is the worn door
template. The lesson has no voice note: a voice that is nobody's would only pretend.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from random import Random
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.inspection.event import EventContent, build_uuid7
from qcapp.inspection.gauges import (
    LONGER_PERCENT,
    MAX_DAYS,
    MIN_DAYS,
    SHORTER_PERCENT,
    WITHIN_PERCENT,
)
from qcapp.inspection.judge import counts_as_fail, judge_answers
from qcapp.scenario.model import Scenario
from qcapp.settings import find_shipped
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.registry.checklists import list_current_checklists
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.keep_lesson_parts import add_picture
from qcapp.usecases.push_demo_records import push_demo_records

DEVICE = "demo-phone-bench"
LESSONS = find_shipped("demo") / "lessons"
STEP = "cut-door-opening"
# In the language of the demo's yard.
CAPTIONS = (
    "Cut on the inner side of the scribed line",
    "Measure inside edge to inside edge, at half height",
    "Lay the first piece on the template before you cut more",
)


@dataclass(frozen=True)
class _Gauge:
    """checks: (days ago, value read). It was registered `days_ago`."""

    body: Mapping[str, Any]
    days_ago: int
    checks: tuple[tuple[int, str], ...]


GAUGES = (
    # It was dropped after its last check, and the next one is late.
    _Gauge(
        {
            "kind": "template",
            "name": "Door template 2",
            "step": STEP,
            "piece": "Steel master M2, in the office",
            "value": "100.0",
            "tolerance": "0.5",
            "interval_days": 14,
        },
        69,
        ((69, "100.0"), (55, "99.9"), (34, "100.1")),
    ),
    _Gauge(
        {
            "kind": "gauge",
            "name": "Steel rule 1",
            "tool": "rule",
            "piece": "Gauge block 200 mm",
            "value": "200.0",
            "tolerance": "0.5",
            "interval_days": 28,
        },
        69,
        ((69, "200.0"), (42, "200.2")),
    ),
    _Gauge(
        {
            "kind": "gauge",
            "name": "Hole plug, grate",
            "step": "pierce-grate",
            "piece": "Ring gauge 16 mm",
            "value": "16.0",
            "tolerance": "0.2",
            "interval_days": 28,
        },
        68,
        ((68, "16.0"), (40, "16.25"), (39, "16.05"), (25, "16.1"), (10, "16.0")),
    ),
)
# (days ago, hour, maker, width in mm, why): of the door opening, by the finished stove's checklist.
FIRST_PIECES = (
    *((days, 6, "A02", "100", "day") for days in (20, 19, 16, 15, 14)),
    (13, 6, "A15", "104", "day"),
    (13, 7, "A15", "101", "set_right"),
    *((days, 6, "A01", "99", "day") for days in (12, 9, 8, 7)),
    (6, 6, "A03", "105", "day"),
    (6, 7, "A03", "100", "set_right"),
    (6, 10, "A03", "100", "new_tool"),
    *((days, 6, "A13", "101", "day") for days in (5, 2)),
)


def list_registrations(store: Store, today: date) -> list[tuple[datetime, Callable[[], None]]]:
    """(when, what to do) of each gauge's entry in the register; a second call adds nothing."""
    times = [_get_time(today, gauge.days_ago, 5) for gauge in GAUGES]
    return [
        (at, partial(_register, store, gauge, at)) for gauge, at in zip(GAUGES, times, strict=True)
    ]


def fill_demo_gauges(store: Store, scenario: Scenario, today: date, now: datetime) -> None:
    """The gauges are registered. A second call adds nothing."""
    with store.reading() as connection:
        if log.list_by_kind(connection, "lesson_part"):
            return
        registered = {
            event["body"]["name"]: event["id"] for event in log.list_by_kind(connection, "gauge")
        }
        checklists = {one.id: one for one in list_current_checklists(connection)}
    maker = _Bench(scenario, today, checklists["finished-stove"])
    for gauge in GAUGES:
        maker.check(registered[str(gauge.body["name"])], gauge)
    for piece in FIRST_PIECES:
        maker.make_first_piece(*piece)
    push_demo_records(store, maker.records, name="Phone at the bench", now=now)
    for number, caption in enumerate(CAPTIONS, start=1):
        drawing = (LESSONS / f"{STEP}-{number}.svg").read_bytes()
        add_picture(store, STEP, drawing, caption, by="trainer", now=now)


def _get_time(today: date, days_ago: int, hour: int) -> datetime:
    """hour: UTC."""
    return datetime.combine(today - timedelta(days=days_ago), time(hour), tzinfo=UTC)


def _register(store: Store, gauge: _Gauge, at: datetime) -> None:
    with store.reading() as connection:
        names, templates = (
            {event["body"]["name"]: event["id"] for event in log.list_by_kind(connection, kind)}
            for kind in ("gauge", "template")
        )
    if gauge.body["name"] in names:
        return
    rule = {
        "within_percent": WITHIN_PERCENT,
        "longer_percent": LONGER_PERCENT,
        "shorter_percent": SHORTER_PERCENT,
        "min_days": MIN_DAYS,
        "max_days": MAX_DAYS,
    }
    template = templates.get(str(gauge.body["name"]))
    body = {**gauge.body, "unit": "mm", **rule, **({"template": template} if template else {})}
    record_server_event(store, kind="gauge", recorder="yard lead", body=body, now=at)


class _Bench:
    """Makes the records of the phone at the bench."""

    def __init__(self, scenario: Scenario, today: date, checklist: Checklist) -> None:
        self.today, self.checklist, self.tz_min = today, checklist, scenario.yard.tz_min
        self.rng = Random(f"{scenario.seed}/bench")  # noqa: S311 -- an invented yard
        self.inspector = next(one.code for one in scenario.people if one.is_inspector)
        self.batches = sorted(scenario.batches, key=lambda one: one.opened_days_ago)
        self.records: list[EventContent] = []

    def check(self, gauge_id: str, gauge: _Gauge) -> None:
        low, high = (
            float(gauge.body["value"]) + sign * float(gauge.body["tolerance"]) for sign in (-1, 1)
        )
        for days_ago, value in gauge.checks:
            verdict = "pass" if low <= float(value) <= high else "fail"
            body = {
                "gauge": gauge_id,
                "held_against": gauge_id,
                "value": value,
                "verdict": verdict,
            }
            self._add("gauge_check", _get_time(self.today, days_ago, 6), body)

    def make_first_piece(
        self, days_ago: int, hour: int, maker: str, width: str, reason: str
    ) -> None:
        at = _get_time(self.today, days_ago, hour)
        # The newest one that was open by then.
        batch = next(one for one in self.batches if one.opened_days_ago >= days_ago)
        answers: dict[str, Any] = {
            "door-opening-width": {"values": [width]},
            "door-opening-height": {"values": ["70"]},
        }
        context = {"size": batch.size, "batch": batch.attributes}
        judged = judge_answers(self.checklist, answers, context)
        failed = [
            check.id
            for check in self.checklist.checks
            if counts_as_fail(check, judged[check.id].verdict)
        ]
        if "door-opening-width" in failed:
            answers["door-opening-width"]["fault"] = "too-wide"
        body = {
            "step": STEP,
            "maker": maker,
            "reason": reason,
            "size": batch.size,
            "batch_attributes": dict(batch.attributes),
            "started_at": format_timestamp(at - timedelta(minutes=2)),
            "answers": answers,
            "verdicts": {name: judged[name].verdict for name in answers},
            "is_good": not failed,
        }
        named = {
            "batch": batch.code,
            "checklist": self.checklist.key,
            "checklist_hash": self.checklist.hash,
        }
        self._add("first_piece", at, body, **named)

    def _add(self, kind: str, at: datetime, body: Mapping[str, Any], **named: Any) -> None:
        content = EventContent(
            id=build_uuid7(int(at.timestamp() * 1000), self.rng.getrandbits(80)),
            kind=kind,
            device_id=DEVICE,
            dev_seq=0,
            inspector=self.inspector,
            captured_at=format_timestamp(at),
            app_build="demo",
            body=body,
            tz_min=self.tz_min,
            **named,
        )
        self.records.append(content)
