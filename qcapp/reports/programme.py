"""Several yards side by side: each with its counts and how sure they are. No order of merit is made
of them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval


@dataclass(frozen=True)
class YardLine:
    """good: finished stoves good at the first pass; interval of their share, None without a stove.

    error: why the yard could not be read, None when it could; then every count is 0.
    """

    name: str
    address: str
    inspected: int = 0
    good: int = 0
    interval: Interval | None = None
    is_few: bool = False
    quarantined: int = 0
    held: int = 0
    refused: int = 0
    asked: int = 0
    phones: int = 0
    silent: int = 0
    last_contact_at: str | None = None
    error: str | None = None


def build_yard_line(
    name: str, address: str, counts: Mapping[str, Any], *, min_count: int
) -> YardLine:
    """counts: as store/queries/overview.py gives them. Below min_count a share is
    called too few to tell.
    """
    inspected, good = counts["inspected"], counts["inspected"] - counts["failed"]
    return YardLine(
        name,
        address,
        inspected=inspected,
        good=good,
        interval=wilson_interval(good, inspected) if inspected else None,
        is_few=inspected < min_count,
        quarantined=counts["quarantined"],
        held=counts["held"],
        refused=counts["refused"],
        asked=counts["asked"],
        phones=counts["phones"],
        silent=counts["silent"],
        last_contact_at=counts["last_contact_at"],
    )
