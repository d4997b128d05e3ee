"""Several yards side by side: each with its counts and how sure they are. No order of merit is made
of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.stats.interval import Interval
from qcapp.stats.proportion import wilson_interval


@dataclass(frozen=True)
class KeptLog:
    """A checkpoint of a yard's log: so many records, kept then; note: the signed text; whether the
    log as it is continues it.
    """

    size: int
    seen_at: str
    note: str
    is_continued: bool


@dataclass(frozen=True)
class YardLine:
    """good: finished stoves good at the first pass; interval of their share, None without a stove.

    error: why the yard could not be read, None when it could; then every count is 0. seen: what
    the programme keeps of its log, as it came.
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
    seen: tuple[KeptLog, ...] = ()

    @property
    def continued(self) -> KeptLog | None:
        """The newest that the log continues."""
        return next((one for one in reversed(self.seen) if one.is_continued), None)


def build_yard_line(
    name: str,
    address: str,
    counts: Mapping[str, Any],
    *,
    min_count: int,
    seen: Sequence[KeptLog] = (),
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
        seen=tuple(seen),
    )
