"""The invented yard's ten weeks, week by week, as its phones and its lead would have sent them."""

import hashlib
import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

from qcapp.access.summary_links import make_summary_link, open_summary_link
from qcapp.checklist.model import Checklist
from qcapp.documents.drawn_photo import draw_photo
from qcapp.inspection.study import is_looked_at_twice
from qcapp.scenario.fill import fill_yard
from qcapp.scenario.lead_acts import LeadAct, list_lead_acts
from qcapp.scenario.model import Scenario, utc_text
from qcapp.scenario.records import ScenarioQuestion
from qcapp.scenario.schedule import Schedule
from qcapp.scenario.shot import Shot
from qcapp.scenario.simulate import Surroundings, simulate_yard
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.store.registry import batches
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.photos import receive_whole
from qcapp.sync.push import parse_push, receive_push
from qcapp.sync.server_events import append_server_event
from qcapp.usecases.answer_summary import record_answer
from qcapp.usecases.fill_demo_bench import DRAWN_DAYS_AGO, fill_demo_bench
from qcapp.usecases.fill_demo_gauges import fill_demo_gauges, list_registrations
from qcapp.usecases.fill_demo_way import fill_demo_way
from qcapp.usecases.issue_summary import issue_summary

# Phones meet the server about once a week.
DAYS_BETWEEN = 7
NOON_MIN = 12 * 60


@dataclass(frozen=True)
class Demo:
    """What a filling works on. today: the day for which the yard is invented; now: UTC."""

    store: Store
    settings: Settings
    scenario: Scenario
    checklists: Sequence[Checklist]
    drawings: Mapping[str, str]
    today: date
    now: datetime


def fill_demo_yard(demo: Demo) -> Iterator[tuple[int, int]]:
    """Yields (records, of how many) as it goes. What a filling before has left is gone on with."""
    taken: dict[str, bytes] = {}
    with demo.store.reading() as connection:
        server_id = log.get_server_id(connection)
    surroundings = Surroundings(
        is_drawn=partial(is_looked_at_twice, server_id),
        take_photo=partial(_take_photo, demo.drawings, taken),
    )
    seed = demo.scenario.seed
    events = simulate_yard(demo.scenario, demo.checklists, seed, demo.today, surroundings)
    acts = _list_acts(demo)
    done = 0
    for since, until in _list_weeks(events, demo.now):
        for at, act in acts:
            if since <= at < until:
                act()
        sent = [event for event in events if since <= event["captured_at"] < until]
        for step in _push(demo, sent, min(demo.now, datetime.fromisoformat(until))):
            yield done + step, len(events)
        done += len(sent)
    for name, content in taken.items():
        receive_whole(demo.store, name, content, sender=None, now=demo.now)
    fill_demo_gauges(demo.store, demo.scenario, demo.today, demo.now)


def _take_photo(drawings: Mapping[str, str], taken: dict[str, bytes], shot: Shot) -> str:
    reading = f"{shot.reading}; {shot.on}" if shot.reading else shot.on
    content = draw_photo(
        drawings[shot.drawing], shot.part, (f"{shot.stove}: {shot.fault}", reading)
    )
    name = hashlib.sha256(content).hexdigest()
    taken[name] = content
    return name


def _list_weeks(events: Sequence[Mapping[str, Any]], now: datetime) -> list[tuple[str, str]]:
    """(from, until) of each, UTC text; the last ends after the last event, however late it is."""
    first = min(event["captured_at"] for event in events)
    ends = [now + timedelta(days=1)]
    while utc_text(ends[0]) > first:
        ends.insert(0, ends[0] - timedelta(days=DAYS_BETWEEN))
    # Templates were entered before the first stove.
    marks = ["", *map(utc_text, ends[1:])]
    return list(itertools.pairwise(marks))


def _push(demo: Demo, events: Sequence[Mapping[str, Any]], at: datetime) -> Iterator[int]:
    """Yields how many are done."""

    def push(request: dict[str, Any]) -> dict[str, Any]:
        relayed_by = request["device"]["id"]
        return receive_push(
            demo.store, parse_push(request), relayed_by=relayed_by, now=at
        ).model_dump()

    unopened = {held.batch for held in demo.scenario.held_back}
    unsent = {device.id: device.unsent for device in demo.scenario.devices}
    for done, _total in fill_yard(
        push, map(dict, events), format_timestamp(at), unsent=unsent, unopened=unopened
    ):
        yield done


def _list_acts(demo: Demo) -> list[tuple[str, Callable[[], None]]]:
    """(when, what to do) of everything that is not a phone's, in order of time."""
    known = {checklist.id: checklist for checklist in demo.checklists}
    schedule = Schedule(demo.scenario, known, demo.scenario.seed, demo.today)
    acts: list[tuple[str, Callable[[], None]]] = [
        (utc_text(act.at), partial(_record, demo.store, act)) for act in list_lead_acts(schedule)
    ]
    closed = [
        one.closed_days_ago for one in demo.scenario.batches if one.closed_days_ago is not None
    ]
    if closed:
        # Before a summary: what came after one would be news to its buyer.
        at = schedule.get_time(min(closed), NOON_MIN)
        way = partial(fill_demo_way, demo.store, demo.scenario, demo.today, at)
        acts.append((utc_text(at), way))
    drawn_at = schedule.get_time(DRAWN_DAYS_AGO, NOON_MIN)
    acts.append((utc_text(drawn_at), partial(fill_demo_bench, demo.store, demo.settings, drawn_at)))
    acts += [(utc_text(at), act) for at, act in list_registrations(demo.store, demo.today)]
    for question in demo.scenario.questions:
        at = schedule.get_time(question.days_ago, NOON_MIN)
        acts.append((utc_text(at), partial(_ask, demo, question, at)))
    return sorted(acts, key=lambda act: act[0])


def _record(store: Store, act: LeadAct) -> None:
    with store.writing() as connection:
        if not log.list_known(connection, [act.id]):
            append_server_event(
                connection,
                kind=act.kind,
                recorder=act.recorder,
                body=act.body,
                now=act.at,
                id=act.id,
            )


def _ask(demo: Demo, question: ScenarioQuestion, at: datetime) -> None:
    """The summary issued the day before, a link to it, and what the buyer asked."""
    before = at - timedelta(days=1)
    with demo.store.reading() as connection:
        batch = batches.find_batch(connection, question.batch)
        if batch is None or summaries.list_summaries(connection, question.batch):
            return
    proof = issue_summary(demo.store, demo.settings, batch, issued_by="lead", now=before)
    token = make_summary_link(
        demo.store,
        batch=question.batch,
        label=question.by,
        made_by="lead",
        days=demo.settings.link_days,
        now=before,
    )
    link = open_summary_link(demo.store, token, what="page", now=at)
    body = {
        "answer": "question",
        "note": question.text,
        "number": proof["summary"]["number"],
        "sha256": proof["signed"]["summary_sha256"],
        "link": link.label,
    }
    record_answer(demo.store, link, kind="buyer_answer", by=question.by, body=body, now=at)
