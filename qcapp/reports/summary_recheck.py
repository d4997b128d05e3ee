"""The buyer's own re-check of a batch beside the yard's figure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.inspection.batch_facts import BatchFacts, BuyersLook, ServerEvent
from qcapp.inspection.judge import counts_as_fail, judge_answers
from qcapp.reports.plan import AgreedPlan
from qcapp.reports.severity_results import select_looked_at
from qcapp.reports.summary_measures import as_decimal
from qcapp.reports.summary_messages import RECHECK
from qcapp.stats.compare import fisher_exact, newcombe_difference


@dataclass(frozen=True)
class Recheck:
    """failed of n stoves were not as agreed. stoves: those entered one by one, by serial, as a
    recheck event has them; empty where only counts were given.
    """

    n: int
    failed: int
    wrote: str
    stoves: tuple[Mapping[str, Any], ...]


def combine_rechecks(
    events: Iterable[ServerEvent], looks: Iterable[Mapping[str, Any]] = ()
) -> Recheck | None:
    """What the newest entry says.

    Stoves entered one by one are taken together, each as it was entered last; counts alone stand
    for themselves. events: the batch's; looks: of describe_look, each with its moment `at`.
    """
    entered: list[tuple[str, Mapping[str, Any] | None, Mapping[str, Any] | None]] = [
        (event.at, event.body, stove)
        for event in events
        if event.kind == "recheck"
        for stove in (event.body.get("stoves") or [None])
    ]
    entered += [(look["at"], None, look) for look in looks]
    if not entered:
        return None
    entered.sort(key=lambda entry: entry[0])
    _at, body, newest = entered[-1]
    if newest is None and body is not None:
        return Recheck(body["n"], body["failed"], body["note"].strip(), ())
    last = {stove["serial"]: stove for _at, _body, stove in entered if stove is not None}
    stoves = tuple(last[serial] for serial in sorted(last))
    return Recheck(len(stoves), sum(map(has_failed, stoves)), "", stoves)


def describe_looks(
    looks: Iterable[BuyersLook], checklist: Checklist, batch: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """Stoves that the buyer's inspector looked at on a phone, judged as the yard's are, in the
    shape of a recheck event's.
    """
    context = {"size": batch["size"], "batch": batch["attributes"]}
    found = []
    for look in looks:
        judged = judge_answers(checklist, look.answers, context)
        marks = {
            check: "fail" if counts_as_fail(checklist.check_by_id[check], one.verdict) else "pass"
            for check, one in judged.items()
            if one.verdict in ("pass", "fail", "doubtful")
        }
        answers = [answer for answer in look.answers.values() if answer]
        notes = [answer["note"] for answer in answers if answer.get("note")]
        photos = [photo for answer in answers for photo in answer.get("photos") or ()]
        stove = {"serial": look.serial, "checks": marks, "note": "; ".join(notes), "photos": photos}
        found.append({**stove, "at": look.at})
    return found


def has_failed(stove: Mapping[str, Any]) -> bool:
    return "fail" in stove["checks"].values()


def compare_recheck(facts: BatchFacts, plan: AgreedPlan) -> dict[str, Any] | None:
    """The buyer's rate less the yard's (Newcombe 1998), with Fisher's exact p in the note. None
    without a re-check, and before any yard's figure.

    Beside a sample stands the share of the sample that failed at first pass; where every stove was
    inspected, the share of released stoves that were released by concession.
    """
    looks = describe_looks(facts.buyers_looks, facts.checklist, facts.batch)
    found = combine_rechecks(facts.server_events, looks)
    yard_n, yard_failed, what = _find_yards_figure(facts, plan)
    if found is None or yard_n == 0:
        return None
    difference = newcombe_difference(found.failed, found.n, yard_failed, yard_n)
    p = fisher_exact(found.failed, found.n, yard_failed, yard_n)
    note = RECHECK(what=what, judged=_judge(difference.low, difference.high), p=as_decimal(p, 3))
    stoves = [_describe_stove(stove, facts) for stove in found.stoves]
    return {
        "n": found.n,
        "failed": found.failed,
        "yard_n": yard_n,
        "yard_failed": yard_failed,
        "difference": as_decimal(difference.value, 4),
        "low": as_decimal(difference.low, 4),
        "high": as_decimal(difference.high, 4),
        "note": note.to_json(),
        "wrote": found.wrote,
        **({"stoves": stoves} if stoves else {}),
    }


def _describe_stove(stove: Mapping[str, Any], facts: BatchFacts) -> dict[str, Any]:
    known = {
        check.id: check for checklist in facts.checklists.values() for check in checklist.checks
    }
    failed = [check for check, mark in stove["checks"].items() if mark == "fail"]
    return {
        "serial": stove["serial"],
        "checks": len(stove["checks"]),
        "failed": [
            {"check": check, "ask": known[check].ask["en"] if check in known else check}
            for check in failed
        ],
        "wrote": stove["note"],
        "photos": list(stove["photos"]),
    }


def _find_yards_figure(facts: BatchFacts, plan: AgreedPlan) -> tuple[int, int, str]:
    if plan.inspect == "sample":
        looked_at = select_looked_at(facts.stoves, plan, "major")
        return len(looked_at), sum(stove.has_fail for stove in looked_at), "sample"
    conceded = facts.dispositions.get("concession", 0)
    return facts.dispositions.get("release", 0) + conceded, conceded, "concessions"


def _judge(low: float, high: float) -> str:
    """Which more than chance explains, if any."""
    if low > 0:
        return "more"
    return "fewer" if high < 0 else "chance"
