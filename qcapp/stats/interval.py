"""What every estimate here looks like: a value never stands without its interval."""

from dataclasses import dataclass

from qcapp.errors import BadInput


@dataclass(frozen=True)
class Interval:
    """low and high in the unit of what is estimated; level is the confidence (0.95)."""

    low: float
    high: float
    level: float


@dataclass(frozen=True)
class Estimate:
    """A value with its interval, all in one unit."""

    value: float
    low: float
    high: float
    level: float


def check_share(share: float, where: str) -> None:
    """Raise BadInput unless 0 < share < 1 (a level, a risk, a power, a rate to compare with)."""
    if not 0 < share < 1:
        raise BadInput(f"{share} is not between 0 and 1", where, "give a fraction such as 0.95")


def check_counts(failed: int, inspected: int) -> None:
    """Raise BadInput unless 0 <= failed <= inspected and inspected >= 1, all whole.

    0 of 0 has no rate and no interval: it is refused here, and the caller says "none inspected".
    """
    if failed != int(failed) or inspected != int(inspected):
        raise BadInput(
            f"{failed} of {inspected} is not a count", "failed, inspected", "give whole numbers"
        )
    if inspected < 1:
        raise BadInput(
            "a rate needs at least one inspected stove", "inspected", "leave the rate out"
        )
    if not 0 <= failed <= inspected:
        raise BadInput(
            f"{failed} failed of {inspected} inspected cannot be", "failed", "check the counts"
        )
