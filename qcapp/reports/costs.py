"""What faults cost the yard: counts times the yard's own minutes, material and pay.

Nothing is taken from elsewhere; where an input is missing, there is no figure.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.i18n.phrase import Phrase, phrase

MINUTES_AN_HOUR = 60
CENT = Decimal("0.01")
MISSING = {
    "minutes": phrase("minutes to repair one"),
    "material": phrase("material for one"),
    "pay": phrase("pay per hour"),
}


@dataclass(frozen=True)
class FaultCost:
    """Of one fault of a step. minutes: to repair it; material: money; pay: money an hour."""

    minutes: Decimal | None
    material: Decimal | None
    pay: Decimal | None
    currency: str

    @property
    def missing(self) -> tuple[Phrase, ...]:
        return tuple(word for name, word in MISSING.items() if getattr(self, name) is None)

    @property
    def money(self) -> Decimal | None:
        """Of one fault, not rounded."""
        if self.minutes is None or self.material is None or self.pay is None:
            return None
        return self.minutes * self.pay / MINUTES_AN_HOUR + self.material


@dataclass(frozen=True)
class CostRow:
    """faults: failed checks of the step at first pass. minutes, money: of all of them, None where
    an input is missing, which `missing` names.
    """

    checklist: str
    step: Step
    faults: int
    cost: FaultCost | None
    minutes: Decimal | None
    money: Decimal | None
    missing: tuple[Phrase, ...]


@dataclass(frozen=True)
class CostReport:
    """money: by currency, of the rows that have all inputs; of_faults: how many faults these are.

    minutes, of_minutes: the same of the rows that have minutes. faults: of all rows.
    """

    rows: tuple[CostRow, ...]
    faults: int
    money: Mapping[str, Decimal]
    of_faults: int
    minutes: Decimal
    of_minutes: int


def build_cost_report(
    counts: Mapping[StepRef, int],
    costs: Mapping[StepRef, FaultCost],
    steps: Mapping[StepRef, Step],
) -> CostReport:
    """Every step of the checklists, the dearest first, then those whose cost is not known by their
    faults.
    """
    rows = [
        _build_row(ref, step, counts.get(ref, 0), costs.get(ref)) for ref, step in steps.items()
    ]
    rows.sort(key=lambda row: (-(row.money or 0), -row.faults))
    return _sum_up(rows)


def _build_row(ref: StepRef, step: Step, faults: int, cost: FaultCost | None) -> CostRow:
    given = cost or FaultCost(None, None, None, "")
    return CostRow(
        checklist=ref.checklist,
        step=step,
        faults=faults,
        cost=cost,
        minutes=None if given.minutes is None else faults * given.minutes,
        money=None
        if given.money is None
        else (faults * given.money).quantize(CENT, ROUND_HALF_EVEN),
        missing=given.missing,
    )


def _sum_up(rows: Sequence[CostRow]) -> CostReport:
    money: dict[str, Decimal] = {}
    for row in rows:
        if row.money is not None and row.cost:
            money[row.cost.currency] = money.get(row.cost.currency, Decimal(0)) + row.money
    return CostReport(
        rows=tuple(rows),
        faults=sum(row.faults for row in rows),
        money=money,
        of_faults=sum(row.faults for row in rows if row.money is not None),
        minutes=sum((row.minutes for row in rows if row.minutes is not None), Decimal(0)),
        of_minutes=sum(row.faults for row in rows if row.minutes is not None),
    )
