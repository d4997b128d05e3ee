"""Batches of the small checklist as yards may leave them: half inspected, by sample, mended,
conceded, corrected, voided, with checks left out; a seed gives the same ones again.
"""

import random
from dataclasses import replace

from qcapp.checklist.model import Checklist
from qcapp.inspection.disposition import DISPOSITIONS, allowed_dispositions
from qcapp.inspection.judge import counts_as_fail, judge_answers
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.checklists import publish_checklist
from qcapp.sync.push import parse_push, receive_push
from qcapp.usecases.decide_batch import PlanRequest, agree_plan
from tests.builders import BATCHES, NOW, Phone, build_push, build_small_checklist


def build_guarded():
    """The next revision: a width too near its limit for the tool counts as failed."""
    compiled = build_small_checklist(revision=2).compiled()
    for check in compiled["checks"]:
        if check["kind"] == "measure":
            check["decision"] = "guarded"
    return Checklist.from_compiled(compiled)


def fill(yard, count, seed):
    """Codes of the batches; half of them under the guarded revision."""
    rng = random.Random(seed)
    guarded = build_guarded()
    codes = [f"S{n:04}" for n in range(count)]
    with yard.store.writing() as connection:
        publish_checklist(connection, guarded, origin="file", now="2026-11-02T00:00:00.000Z")
        save_batches(
            connection,
            [
                {
                    **BATCHES[0],
                    "code": code,
                    "planned": rng.randint(1, 5),
                    "serial_prefix": f"{code}-",
                }
                for code in codes
            ],
        )
    phones = [yard.phone, replace(yard.phone, checklist=guarded)]
    for start in range(0, count, 40):
        events = [
            event
            for code in codes[start : start + 40]
            for event in make_batch(rng, phones[rng.random() < 0.5], code)
        ]
        push(yard, events)
    for code in codes:
        if rng.random() < 0.3:
            agree(yard, rng, code)
    return codes


def push(yard, events):
    for start in range(0, len(events), 100):
        request = parse_push(build_push(events[start : start + 100]))
        receive_push(yard.store, request, relayed_by=yard.phone.device_id, now=NOW)


def agree(yard, rng, code):
    """A sample of a lot that may be larger than what came."""
    request = PlanRequest(
        "sample", rng.randint(8, 12), level="S-4", aql={"major": "6.5", "minor": "10"}, seed=code
    )
    agree_plan(yard.store, code, request, by="LEAD", now=NOW)


def make_batch(rng, phone: Phone, code):
    for n in range(1, rng.randint(0, 5) + 1):
        yield from make_stove(rng, phone, code, f"{code}-{n:03}")


def make_stove(rng, phone, code, serial):
    """First pass, then perhaps again; in the log's order, which is not always the order made."""
    events = []
    for visit in range(rng.choice((1, 1, 1, 2, 3))):
        at = f"2026-11-{10 + visit:02}T08:{rng.randrange(60):02}:00.000Z"
        body = make_body(rng, phone, at, is_short=visit == 0 and rng.random() < 0.25)
        event = phone.seal("inspection", serial, body, at=at, batch=code)
        events.append(event)
        if rng.random() < 0.1:
            change = {"reason": "wrong key", "replacement": make_body(rng, phone, at, False)}
            events.append(
                phone.seal("correction", serial, change, corrects=event["id"], batch=code)
            )
        if rng.random() < 0.05:
            body = {"reason": "entered twice"}
            events.append(phone.seal("void", serial, body, corrects=event["id"], batch=code))
    if rng.random() < 0.2:
        events.reverse()
    return events


def choose_disposition(rng, phone, judged):
    """Mostly one that is allowed; the rest is quarantined and must be counted nowhere."""
    if rng.random() < 0.03:
        return rng.choice(DISPOSITIONS)
    checks = phone.checklist.check_by_id
    failed = [
        checks[key].severity
        for key, found in judged.items()
        if counts_as_fail(checks[key], found.verdict)
    ]
    # A check that a short look leaves out is not missing there.
    allowed = allowed_dispositions(failed, has_missing=False)
    return allowed[min(rng.choice((0, 0, 0, 1, 2)), len(allowed) - 1)]


def make_body(rng, phone, at, is_short):
    answers = {
        "sharp-edge": {"mark": rng.choice(("pass",) * 8 + ("fail", "not_applicable"))},
        "door-opening-width": rng.choice(
            (
                *({"values": [str(rng.randint(95, 105))]} for _ in range(9)),
                {"mark": "cannot_measure"},
            )
        ),
        "dents": {"mark": rng.choice(("pass",) * 5 + ("fail", "not_applicable"))},
    }
    if is_short:
        answers = {"sharp-edge": answers["sharp-edge"]}
    context = {"size": "medium", "batch": {"painted": False}}
    judged = judge_answers(phone.checklist, answers, context)
    kind = choose_disposition(rng, phone, judged)
    reason = {} if kind in ("release", "rework") else {"reason": "as agreed"}
    return {
        "size": "medium",
        "batch_attributes": {"painted": False},
        "started_at": at,
        "crew": {step.id: rng.choice(("A01", "A02")) for step in phone.checklist.steps},
        "answers": answers,
        "verdicts": {key: found.verdict for key, found in judged.items()},
        "disposition": {"kind": kind, **reason},
        **({"scope": "critical"} if is_short else {}),
    }
