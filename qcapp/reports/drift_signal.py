"""A row that has moved: since when, by how much, and what failed before and since."""

from dataclasses import dataclass

from qcapp.i18n.phrase import phrase
from qcapp.reports.groups import GroupRate
from qcapp.stats.interval import Estimate

LARGER = phrase("larger")
SMALLER = phrase("smaller")
MORE_FAULTS = phrase("more faults")


@dataclass(frozen=True)
class Signal:
    """direction: larger, smaller (readings) or more faults (passes). began, seen: (stove,
    captured_at).

    before, since: counts and means (readings) or shares (passes); change: of the mean as one
    jump, whenever it came, with an interval that allows for the search; None with too few. rates:
    before and since (passes), None for readings.
    """

    direction: str
    began: tuple[str, str]
    seen: tuple[str, str]
    stoves_until_seen: int
    before: tuple[int, float]
    since: tuple[int, float]
    failed_before: int
    failed_since: int
    change: Estimate | None
    rates: tuple[GroupRate, GroupRate] | None

    @property
    def fails_more(self) -> bool:
        """Whether a larger share has failed since than before, as counted."""
        return self.failed_since * self.before[0] > self.failed_before * self.since[0]
