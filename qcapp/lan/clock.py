"""A clock that is plainly wrong makes certificates that no phone accepts; it is better not to
start.
"""

from datetime import UTC, datetime

from qcapp.errors import StartError

# Raised with each release: no right clock shows an earlier day.
BUILT_AT = datetime(2026, 11, 25, tzinfo=UTC)


def find_clock_fault(now: datetime, *seen_at: datetime) -> str | None:
    """Why `now` cannot be: it is before the build, or before a moment that this machine has already
    seen.
    """
    latest = max(BUILT_AT, *seen_at) if seen_at else BUILT_AT
    if now >= latest:
        return None
    return (
        f"this machine's clock says {now:%Y-%m-%d %H:%M} UTC, "
        f"which is before {latest:%Y-%m-%d %H:%M} UTC"
    )


def refuse_wrong_clock(now: datetime, *seen_at: datetime) -> None:
    """Raises StartError when `find_clock_fault` finds one."""
    fault = find_clock_fault(now, *seen_at)
    if fault:
        raise StartError(fault, "date and time", "set the clock, then start again")
