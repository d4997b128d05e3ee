"""The words phone and server exchange. Fields are added, never re-used."""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

PROTOCOL = 1
# Every protocol ever released stays in this list: a phone from a drawer may hand in its work.
PROTOCOLS = (1,)
MOST_EVENTS = 100
MOST_BYTES = 262_144
MOST_EVENT_BYTES = 16_384
MOST_DEFINITIONS = 20

Outcome = Literal["created", "duplicate", "quarantined", "conflict", "retry"]


class Position(BaseModel):
    """A place in the log: its number and the running hash there."""

    seq: int = Field(ge=0)
    chain: str


class DeviceNote(BaseModel):
    """What the phone says of itself: events made, events acknowledged, its clock."""

    model_config = ConfigDict(extra="ignore")
    id: str = Field(default="", max_length=64)
    created: int = Field(default=0, ge=0, lt=2**53)
    acked: int = Field(default=0, ge=0, lt=2**53)
    clock: str | None = Field(default=None, max_length=64)
    app_build: str | None = Field(default=None, max_length=100)


class PushRequest(BaseModel):
    """Events stay plain JSON here: one that cannot be read must not refuse the others."""

    model_config = ConfigDict(extra="ignore")
    protocol: int = Field(strict=True)
    request_id: str = Field(max_length=100)
    have: Position | None = None
    device: DeviceNote = Field(default_factory=DeviceNote)
    events: list[Any] = Field(max_length=MOST_EVENTS)
    definitions: list[Any] = Field(default_factory=list, max_length=MOST_DEFINITIONS)

    @field_validator("device", mode="before")
    @classmethod
    def _forgives_a_bad_note(cls, note: Any) -> Any:
        # What a phone says of itself is for the lead to read; it must never stop records.
        try:
            return DeviceNote.model_validate(note)
        except ValidationError:
            return DeviceNote()


class EventResult(BaseModel):
    id: str | None
    outcome: Outcome
    reason: str | None = None


class PushAnswer(BaseModel):
    protocol: int = PROTOCOL
    request_id: str
    lineage: Literal["ok", "diverged"]
    head: Position
    results: list[EventResult]


class PulledEvent(BaseModel):
    seq: int
    state: str
    event: Any


class PullAnswer(BaseModel):
    protocol: int = PROTOCOL
    lineage: Literal["ok", "diverged"]
    events: list[PulledEvent]
    cursor: str
    head: Position
    more: bool
