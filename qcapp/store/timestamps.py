"""One written form of a moment, the same as the phone's: UTC, milliseconds, Z."""

from datetime import UTC, datetime


def format_timestamp(moment: datetime) -> str:
    """2026-11-25T08:00:00.000Z; sorts as text in time order."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def parse_timestamp(text: str) -> datetime:
    """Raises ValueError when the text is no ISO 8601 moment with a zone."""
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(f"no time zone in {text!r}")
    return moment
