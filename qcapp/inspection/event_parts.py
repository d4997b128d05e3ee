"""What the parts of every event are made of: strict about types, unknown fields kept."""

from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

from qcapp.inspection.number import CANONICAL_PATTERN

Verdict = Literal["pass", "fail", "doubtful", "not_applicable", "missing"]
Disposition = Literal["release", "rework", "concession", "scrap", "hold"]
Severity = Literal["critical", "major", "minor"]
BatchOutcome = Literal["accept", "reject", "not_ready"]
Count = Annotated[int, Field(ge=0)]
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Reading = Annotated[str, Field(pattern=f"^{CANONICAL_PATTERN}$")]
Name = Annotated[str, Field(min_length=1, max_length=100)]
Note = Annotated[str, Field(max_length=2000)]
Reason = Annotated[str, Field(min_length=1, max_length=2000, pattern=r"\S")]


_TIME_PARTS = ((0, 4), (5, 2), (8, 2), (11, 2), (14, 2), (17, 2))


def _is_real_time(text: str) -> str:
    # The pattern has seen to the digits. To parse a format takes ten times as long.
    year, month, day, hour, minute, second = (
        int(text[start : start + length]) for start, length in _TIME_PARTS
    )
    datetime(year, month, day, hour, minute, second, tzinfo=UTC)
    return text


UtcTime = Annotated[
    str,
    Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{3}Z$"),
    AfterValidator(_is_real_time),
]


def _is_real_day(text: str) -> str:
    date.fromisoformat(text)
    return text


IsoDay = Annotated[
    str, Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"), AfterValidator(_is_real_day)
]


def form_error(text: str, at: Sequence[str | int], problem: str) -> PydanticCustomError:
    """Where and what, as data beside the English; qcapp/sync/quarantine_reasons.py words it."""
    given = {"text": text, "at": tuple(at), "problem": problem}
    return PydanticCustomError("form", "{text}", given)


class EventPart(BaseModel):
    """Base of everything inside an event: strict about types, unknown fields kept."""

    model_config = ConfigDict(extra="allow", strict=True, frozen=True)
