"""What a figure is asked for."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Filters:
    """What a figure is made from. None: no limit. since, until: ISO dates, both inclusive.

    has_rework: also later inspections, not only first passes. has_all_days: also what is older
    than the newest half year, which is left out where neither day nor batch is given.
    """

    since: str | None = None
    until: str | None = None
    batch: str | None = None
    size: str | None = None
    stage: str | None = None
    trade: str | None = None
    has_rework: bool = False
    has_all_days: bool = False
