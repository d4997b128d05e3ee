"""What an inspector would find on one article: answers drawn from habits and planted causes.

Nothing here knows a part or a check by name; the checklist and the scenario file do.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from random import Random
from typing import Any

from qcapp.checklist.base_check import BaseCheck, NumberCheck
from qcapp.checklist.check_kinds import CalculatedCheck, Check, ChoiceCheck, TickCheck
from qcapp.scenario.model import Habits, Planted, ScenarioPerson

# Of the way from nothing to a limit without a usual figure, where readings lie on average.
USUAL_SHARE_OF_UPPER = 0.4
USUAL_TIMES_LOWER = 1.4
# Beyond so many made, practice changes nothing that could be seen here.
MAX_MADE = 3000


@dataclass(frozen=True)
class Maker:
    """Who did a step and how many stoves that artisan had made before; None = not known."""

    person: ScenarioPerson | None
    made: int


class AnswerDrawer:
    """Draws answers for one article; `days_ago` says on which day it was made."""

    def __init__(
        self,
        rng: Random,
        habits: Habits,
        planted: Iterable[Planted],
        size: str,
        days_ago: int,
        repaired: bool = False,
    ) -> None:
        self.rng, self.habits, self.size, self.days_ago = rng, habits, size, days_ago
        # A repair is done under the master's eye: planted causes and learning play no part in it.
        self.planted = () if repaired else tuple(planted)
        self.repaired = repaired

    def draw(self, check: Check, maker: Maker) -> dict[str, Any] | None:
        """The answer to a check, or None where nobody enters one (calculated)."""
        match check:
            case TickCheck():
                return self._draw_tick(check, maker)
            case ChoiceCheck():
                return self._draw_choice(check, maker)
            case NumberCheck() if check.answer_key:
                return {"values": self._draw_values(check, maker)}
        return None

    def _draw_tick(self, check: TickCheck, maker: Maker) -> dict[str, Any]:
        if not self._is_faulty(check, maker):
            return {"mark": "pass"}
        fault = {"fault": self.rng.choice(check.faults).id} if check.faults else {}
        return {"mark": "fail", **fault}

    def _draw_choice(self, check: ChoiceCheck, maker: Maker) -> dict[str, Any]:
        wanted = "fail" if self._is_faulty(check, maker) else "pass"
        options = [option for option in check.options if option.verdict == wanted] or list(
            check.options
        )
        option = self.rng.choice(options)
        return {"option": option.id, **({"fault": option.fault} if option.fault else {})}

    def _draw_values(self, check: NumberCheck, maker: Maker) -> list[str]:
        if check.is_whole:
            return [self._draw_count(check, maker)]
        figure, spread = self._draw_figure(check, maker)
        if check.reading_count == 1:
            return [canonical_reading(figure, check)]
        values = spread_readings(
            self.rng, check.statistic, check.reading_count, figure, spread, _middle(check)
        )
        return [canonical_reading(value, check) for value in values]

    def _draw_count(self, check: NumberCheck, maker: Maker) -> str:
        limits = check.limits[self.size]
        usual = self.habits.levels.get(check.id, limits.nominal)
        if usual is None:
            usual = limits.lower if limits.lower is not None else 0
        if self._is_faulty(check, maker):
            beyond = [
                value
                for value in (_beyond(limits.lower, -1), _beyond(limits.upper, 1))
                if value is not None
            ]
            usual = self.rng.choice(
                [value for value in beyond if check.possible.lower <= value] or [usual]
            )
        return str(int(usual))

    def _draw_figure(self, check: NumberCheck, maker: Maker) -> tuple[float, float]:
        """(the figure that is judged, its standard deviation), in the check's unit."""
        usual, half = self._usual_and_half(check)
        spread = (
            self.habits.spread_share * half * self._practice(maker) ** (-self.habits.learning / 4)
        )
        spread *= maker.person.spread_times if maker.person else 1
        return self.rng.gauss(usual + self._shift(check, maker), spread), spread

    def _usual_and_half(self, check: NumberCheck) -> tuple[float, float]:
        """The usual figure and its distance to the nearer limit."""
        limits = check.limits[self.size]
        lower, upper = limits.lower, limits.upper
        usual = self.habits.levels.get(check.id, limits.nominal)
        if usual is None and lower is not None and upper is not None:
            usual = (lower + upper) / 2
        elif usual is None:
            usual = (
                upper * USUAL_SHARE_OF_UPPER
                if upper is not None
                else (lower or 1) * USUAL_TIMES_LOWER
            )
        distances = [abs(usual - limit) for limit in (lower, upper) if limit is not None]
        return usual, min(distances) or float(check.resolution)

    def _practice(self, maker: Maker) -> float:
        made = MAX_MADE if self.repaired or maker.person is None else min(maker.made, MAX_MADE)
        return (1 + made) / (1 + self.habits.practised_stoves)

    def _shift(self, check: NumberCheck, maker: Maker) -> float:
        return sum(
            effect.shift + effect.drift_per_day * days
            for effect, days in self._acting(check.id, maker)
        )

    def _is_faulty(self, check: BaseCheck, maker: Maker) -> bool:
        rate = self.habits.fault_rates.get(check.id, self.habits.fault_rate)
        if rate >= 1:
            return True
        odds = rate / (1 - rate) * self._practice(maker) ** -self.habits.learning
        odds *= maker.person.odds_times if maker.person else 1
        for effect, _ in self._acting(check.id, maker):
            odds *= effect.odds_times
        return bool(self.rng.random() < odds / (1 + odds))

    def _acting(self, check_id: str, maker: Maker) -> list[tuple[Planted, int]]:
        """(cause, days since it began) of the planted causes that touch this check here."""
        code = maker.person.code if maker.person else None
        found = []
        for effect in self.planted:
            days = 0 if effect.from_days_ago is None else effect.from_days_ago - self.days_ago
            is_over = effect.until_days_ago is not None and self.days_ago <= effect.until_days_ago
            if effect.check == check_id and code in effect.artisans and days >= 0 and not is_over:
                found.append((effect, days))
        return found


def spread_readings(
    rng: Random, by: str, n: int, figure: float, spread: float, middle: float
) -> list[float]:
    """n readings whose smallest, largest, mean or range is `figure`.

    spread: how far the others scatter; middle: where the readings of a range lie.
    """
    if by == "range":
        width = max(figure, 0)
        values = [middle, middle + width, *(middle + width * rng.random() for _ in range(n - 2))]
    elif by == "mean":
        steps = [rng.uniform(-spread, spread) for _ in range(n)]
        values = [figure + step - sum(steps) / n for step in steps]
    else:
        side = 1 if by == "smallest" else -1
        values = [figure, *(figure + side * 2 * spread * rng.random() for _ in range(n - 1))]
    rng.shuffle(values)
    return values


def canonical_reading(value: float, check: NumberCheck) -> str:
    """The value as read off a tool of this resolution, within what is possible: "100", "12.5"."""
    step = Decimal(str(check.resolution))
    lowest = max(Decimal(0), Decimal(str(check.possible.lower)))
    # The lowest first: of two equal ones max() keeps it, and a minus zero is never written.
    inside = min(max(lowest, Decimal(repr(value))), Decimal(str(check.possible.upper)))
    read = (inside / step).to_integral_value() * step
    exponent = step.normalize().as_tuple().exponent
    return f"{read:.{max(0, -int(exponent))}f}"


def list_to_ask_again(checks: Mapping[str, Check], failed: Iterable[str]) -> list[str]:
    """The checks that must be answered anew; a calculated one asks for its inputs."""
    asked: list[str] = []
    for check_id in failed:
        check = checks[check_id]
        asked += (
            list_to_ask_again(checks, check.inputs)
            if isinstance(check, CalculatedCheck)
            else [check_id]
        )
    return list(dict.fromkeys(asked))


def _beyond(limit: float | None, step: int) -> float | None:
    return None if limit is None else limit + step


def _middle(check: NumberCheck) -> float:
    return (check.possible.lower + check.possible.upper) / 2
