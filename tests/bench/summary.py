"""How long the summary of a large batch takes: 5,000 stoves by the shipped checklist,
on a disk file.
"""

import json
import random
import time
from pathlib import Path

from qcapp.checklist.model import Checklist
from qcapp.inspection.event import EventContent
from qcapp.inspection.judge import judge_answers
from qcapp.reports.decision import decide
from qcapp.reports.plan import PlanRequest, build_plan_body, read_plan
from qcapp.reports.summary import Issue, Yard, build_summary
from qcapp.settings import Settings
from qcapp.stats.switching import SamplingRegime
from qcapp.store.engine import Store
from qcapp.store.log import Entry, append
from qcapp.store.projections.stove_projection import refresh_stoves
from qcapp.store.queries.batch_facts import load_batch_facts
from qcapp.store.registry.batches import find_batch, save_batches
from qcapp.store.registry.checklists import get_current_checklist
from qcapp.store.registry.people import save_people
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.server_events import append_server_event
from qcapp.usecases.open_store import open_store
from tests.builders import BATCHES, NOW, PEOPLE

ISSUE = Issue(Yard("Bench yard"), format_timestamp(NOW), "lead")
FAULT_SHARE = 0.15
PHONE = "0197f000-0000-7000-8000-0000000be7c4"


def measure_summary(folder: Path, stoves: int = 5000, runs: int = 5) -> dict[str, float]:
    """Milliseconds by the clock and of the processor, the fastest of the runs: every stove
    inspected, and by sample.

    The two differ by what else the machine does.
    """
    store = open_store(Settings(database_url=f"sqlite:///{folder / 'bench.db'}"))
    checklist = fill_store(store, stoves)
    figures = _measure(store, runs, f"summary of {stoves} stoves, every one")
    agree_sample(store, stoves)
    figures |= _measure(store, runs, f"summary of {stoves} stoves, sample")
    store.close()
    return {**figures, "checks of the checklist": float(len(checklist.checks))}


def fill_store(store: Store, stoves: int) -> Checklist:
    """One batch of so many stoves; readings scattered,
    one in seven with a failed check and a second visit.
    """
    chance = random.Random(5)
    with store.writing() as connection:
        checklist = get_current_checklist(connection, "finished-stove")
        save_people(connection, PEOPLE)
        save_batches(
            connection, [{**BATCHES[0], "planned": stoves, "checklist_ids": [checklist.id]}]
        )
        events = [
            event
            for place in range(1, stoves + 1)
            for event in _make_events(checklist, place, chance)
        ]
        entries = [_enter(event) for event in events]
        append(
            connection,
            entries,
            received_at=format_timestamp(NOW),
            relayed_by=None,
            clock_offset_ms=0,
        )
        refresh_stoves(connection, [entry.stove_key for entry in entries])
    return checklist


def agree_sample(store: Store, stoves: int) -> None:
    with store.writing() as connection:
        facts = load_batch_facts(connection, find_batch(connection, "B1"))
        wish = PlanRequest("sample", stoves, aql={"major": "2.5", "minor": "4.0"}, seed="bench")
        append_server_event(
            connection,
            kind="plan",
            recorder="lead",
            body=build_plan_body(wish, facts, SamplingRegime()),
            now=NOW,
            batch="B1",
        )


def write_summary(store: Store) -> dict:
    with store.reading() as connection:
        facts = load_batch_facts(connection, find_batch(connection, "B1"))
    plan = read_plan(facts)
    return build_summary(facts, plan, decide(facts, plan), ISSUE, ["A01", "Ano"])


def _measure(store: Store, runs: int, name: str) -> dict[str, float]:
    found = {}
    for what, clock in (("ms", time.perf_counter), ("ms of processor", time.process_time)):
        times = []
        for _ in range(runs):
            start = clock()
            write_summary(store)
            times.append((clock() - start) * 1000)
        found[f"{name}, {what}"] = min(times)
    return found


def _make_events(checklist: Checklist, place: int, chance: random.Random) -> list[dict]:
    is_bad = chance.random() < FAULT_SHARE
    answers = {
        check.id: _answer(check, chance) for check in checklist.checks if check.kind != "calculated"
    }
    if is_bad:
        tick = chance.choice([check for check in checklist.checks if check.kind == "tick"])
        answers[tick.id] = {"mark": "fail", "fault": tick.faults[0].id}
    first = _seal(checklist, place, 1, answers, "rework" if is_bad else "release")
    if not is_bad:
        return [first]
    mended = {**answers, tick.id: {"mark": "pass"}}
    return [first, _seal(checklist, place, 2, mended, "release")]


def _answer(check, chance: random.Random) -> dict:
    if check.kind == "tick":
        return {"mark": "pass"}
    if check.kind == "choice":
        return {"option": next(option.id for option in check.options if option.verdict == "pass")}
    limits = check.limits_for("medium")
    low, high = limits.accept_lower, limits.accept_upper
    if check.kind == "count" or limits.lower == limits.upper:
        return {"values": [str(round(limits.nominal if limits.nominal is not None else low))]}
    middle = (
        limits.nominal
        if limits.nominal is not None
        else (low + 4 if high is None else high - 4 if low is None else (low + high) / 2)
    )
    return {
        "values": [str(round(middle + chance.gauss(0, 1.1))) for _ in range(getattr(check, "n", 1))]
    }


def _seal(
    checklist: Checklist, place: int, inspection: int, answers: dict, disposition: str
) -> dict:
    at = f"2026-11-24T{7 + inspection:02}:00:00.000Z"
    judged = judge_answers(checklist, answers, {"size": "medium", "batch": {"painted": False}})
    body = {
        "size": "medium",
        "batch_attributes": {"painted": False},
        "started_at": at,
        "crew": {step.id: "A01" for step in checklist.steps},
        "answers": answers,
        "verdicts": {key: found.verdict for key, found in judged.items()},
        "disposition": {"kind": disposition},
    }
    number = place * 2 + inspection
    return EventContent(
        id=f"0197f000-0000-7000-8000-{number:012x}",
        kind="inspection",
        device_id=PHONE,
        dev_seq=number,
        inspector="I01",
        captured_at=at,
        app_build="bench",
        body=body,
        batch="B1",
        stage=checklist.stage,
        stove=f"B1-{place:03}",
        checklist=checklist.key,
        checklist_hash=checklist.hash,
    ).seal()


def _enter(event: dict) -> Entry:
    key = f"{event['stage']}/{event['stove']}"
    return Entry(
        event["id"],
        event["hash"],
        "counted",
        None,
        "inspection",
        "bench",
        event["dev_seq"],
        key,
        "B1",
        json.dumps(event),
    )
