"""The agreed plan of a batch: every stove, or a sample that anyone can draw again."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.batch_facts import SEVERITIES, BatchFacts, BatchOutline
from qcapp.inspection.terms import REGIMES
from qcapp.stats.sampling import Plan, draw_positions, get_plan
from qcapp.stats.switching import (
    ACCEPTED_TO_REDUCED,
    LotResult,
    SamplingRegime,
    next_inspection,
    restart,
)

STRICTNESS = {"reduced": 0, "normal": 1, "tightened": 2}


class DecidedLot(Protocol):
    """One batch of a series; see `PlanRequest` for what is not told here."""

    @property
    def result(self) -> str:
        """accepted, gap or rejected"""

    @property
    def may_reduce(self) -> bool: ...

    @property
    def is_restart(self) -> bool: ...


@dataclass(frozen=True)
class PlanRequest:
    """What the lead and the buyer agreed. aql: percent for major and minor, as printed in the
    table.

    regime: normal, tightened or reduced; None: as the rules require. may_reduce: production is
    steady and reduced inspection is wanted. is_restart: production was corrected after inspection
    had stopped.
    """

    inspect: str
    lot: int
    level: str = "II"
    aql: Mapping[str, str] | None = None
    regime: str | None = None
    seed: str = ""
    may_reduce: bool = False
    is_restart: bool = False


@dataclass(frozen=True)
class Limit:
    severity: str
    aql: str | None
    n: int
    ac: int
    re: int


@dataclass(frozen=True)
class AgreedPlan:
    """sample: serials in the order drawn, so that the first n of them are the sample of a limit's
    n.

    agreed_at, agreed_by: None when nobody agreed anything; then every stove is inspected.
    """

    inspect: str
    lot: int
    level: str | None
    regime: str | None
    letter: str | None
    seed: str | None
    sample: tuple[str, ...]
    limits: tuple[Limit, ...]
    may_reduce: bool = False
    is_restart: bool = False
    agreed_at: str | None = None
    agreed_by: str | None = None

    def find_limit(self, severity: str) -> Limit:
        return next(limit for limit in self.limits if limit.severity == severity)


def read_plan(facts: BatchOutline) -> AgreedPlan:
    """The plan in force: the newest agreed one, else every stove."""
    event = facts.find_last("plan")
    if event is None:
        lot = facts.batch["planned"]
        return AgreedPlan("every", lot, None, None, None, None, (), _limit_every(lot))
    body = event.body
    shared = {
        key: body[key]
        for key in (
            "inspect",
            "lot",
            "level",
            "regime",
            "letter",
            "seed",
            "may_reduce",
            "is_restart",
        )
    }
    limits = tuple(
        Limit(**{key: limit[key] for key in ("severity", "aql", "n", "ac", "re")})
        for limit in body["limits"]
    )
    return AgreedPlan(
        **shared,
        sample=tuple(body["sample"]),
        limits=limits,
        agreed_at=event.at,
        agreed_by=event.by,
    )


def build_plan_body(
    wish: PlanRequest, facts: BatchFacts, proposed: SamplingRegime
) -> dict[str, Any]:
    """The body of the event that agrees a plan. proposed: what the rules ask, see `follow_series`.

    A sample that would not be smaller than the batch becomes every stove. Raises BadInput for a
    regime milder than proposed, for sampling after it has stopped, and for what the tables do not
    have.
    """
    shared = {
        "design": facts.design,
        "checklist_stage": facts.stage,
        "lot": wish.lot,
        "may_reduce": wish.may_reduce,
        "is_restart": wish.is_restart,
    }
    if wish.lot < max(1, facts.inspected):
        what = phrase(
            "%(inspected)s stoves have already been inspected, more than the batch would have",
            inspected=facts.inspected,
        )
        raise BadInput(what, "lot", phrase("give the number of stoves offered"))
    if wish.inspect == "every":
        return {**shared, **_every_body(wish.lot)}
    regime = choose_regime(wish, proposed)
    aql = wish.aql or {}
    plans = {
        severity: get_plan(wish.lot, aql.get(severity, ""), wish.level, regime)
        for severity in ("major", "minor")
    }
    n = max(plan.n for plan in plans.values())
    if n >= wish.lot:
        return {**shared, **_every_body(wish.lot)}
    prefix = facts.batch["serial_prefix"]
    return {
        **shared,
        "inspect": "sample",
        "level": wish.level,
        "regime": regime,
        "letter": plans["major"].letter,
        "seed": wish.seed,
        "sample": [name_serial(prefix, place) for place in draw_positions(wish.lot, n, wish.seed)],
        "limits": [vars(limit) for limit in _limit_sample(wish.lot, plans, aql)],
    }


def name_serial(prefix: str, place: int) -> str:
    """As the phone proposes serials: at least three digits."""
    return f"{prefix}{place:03}"


def choose_regime(wish: PlanRequest, proposed: SamplingRegime) -> str:
    """The regime to inspect under: as the rules require, or stricter when both agree on that."""
    now = prepare_regime(proposed, may_reduce=wish.may_reduce, is_restart=wish.is_restart)
    if now.is_stopped:
        raise BadInput(
            phrase(
                "acceptance by sampling has stopped after five rejected batches on tightened "
                "inspection"
            ),
            "inspect",
            phrase("inspect every stove, or confirm that production has been corrected"),
        )
    regime = wish.regime or now.kind
    if regime not in STRICTNESS or STRICTNESS[regime] < STRICTNESS[now.kind]:
        asked = REGIMES[now.kind]
        what = phrase(
            "%(regime)s inspection is not allowed for this batch; the rules require %(asked)s "
            "inspection",
            regime=REGIMES.get(regime, regime),
            asked=asked,
        )
        raise BadInput(what, "regime", phrase("choose %(asked)s or a stricter one", asked=asked))
    return regime


def follow_series(lots: Iterable[DecidedLot]) -> SamplingRegime:
    """The inspection in force after the batches decided so far, of one design, in order."""
    now = SamplingRegime()
    for lot in lots:
        now = prepare_regime(now, may_reduce=lot.may_reduce, is_restart=lot.is_restart)
        if now.is_stopped:
            continue
        now = next_inspection(
            now, LotResult(lot.result != "rejected", lot.result == "gap"), lot.may_reduce
        )
    return now


def prepare_regime(now: SamplingRegime, *, may_reduce: bool, is_restart: bool) -> SamplingRegime:
    """What a person's word changes before a batch: restart after mending, reduced wanted or no
    longer.
    """
    if now.is_stopped:
        return restart(now) if is_restart else now
    if may_reduce and now.kind == "normal" and now.accepted_run >= ACCEPTED_TO_REDUCED:
        return SamplingRegime("reduced")
    return SamplingRegime("normal") if now.kind == "reduced" and not may_reduce else now


def _every_body(lot: int) -> dict[str, Any]:
    limits = [vars(limit) for limit in _limit_every(lot)]
    return {
        "inspect": "every",
        "level": None,
        "regime": None,
        "letter": None,
        "seed": None,
        "sample": [],
        "limits": limits,
    }


def _limit_every(lot: int) -> tuple[Limit, ...]:
    """Nothing is accepted with an open fault; a concession closes one that cannot hurt anyone."""
    return tuple(Limit(severity, None, lot, 0, 1) for severity in SEVERITIES)


def _limit_sample(lot: int, plans: Mapping[str, Plan], aql: Mapping[str, str]) -> tuple[Limit, ...]:
    counted_checks = tuple(
        Limit(severity, aql[severity], plan.n, plan.ac, plan.re) for severity, plan in plans.items()
    )
    return (Limit("critical", None, lot, 0, 1), *counted_checks)
