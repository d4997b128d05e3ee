"""A rate with its interval in words and in a table: the same under every chart of rates."""

from typing import Protocol

from qcapp.charts.frame import percent
from qcapp.i18n.phrase import Phrase, phrase

COLUMNS = (
    phrase("who"),
    phrase("failed"),
    phrase("inspected"),
    phrase("rate"),
    phrase("low"),
    phrase("high"),
)


class Rated(Protocol):
    """rate, low, high: shares; the last two are the interval's ends."""

    @property
    def label(self) -> str: ...
    @property
    def failed(self) -> int: ...
    @property
    def inspected(self) -> int: ...
    @property
    def rate(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...


def list_cells(mark: Rated) -> tuple[str, ...]:
    """The mark's row under COLUMNS."""
    shares = (percent(mark.rate), percent(mark.low), percent(mark.high))
    return (mark.label, str(mark.failed), str(mark.inspected), *shares)


def describe_mark(mark: Rated) -> Phrase:
    return phrase(
        "%(who)s: %(failed)s of %(of)s, %(rate)s (%(low)s to %(high)s)",
        who=mark.label,
        failed=mark.failed,
        of=mark.inspected,
        rate=percent(mark.rate),
        low=percent(mark.low),
        high=percent(mark.high),
    )
