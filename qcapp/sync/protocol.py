"""The words phone and server exchange. Fields are added, never re-used."""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

PROTOCOL = 1
# Every protocol ever released stays in this list: a phone from a drawer may hand in its work.
PROTOCOLS = (1,)
MOST_EVENTS = 100
MOST_BYTES = 262_144
MOST_EVENT_BYTES = 16_384

Outcome = Literal["created", "duplicate", "quarantined", "conflict", "retry"]


class Position(BaseModel):
    """A place in the log: its number and the running hash there."""

    seq: int = Field(ge=0)
    chain: str


class DeviceNote(BaseModel):
    """What the phone says of itself: events made, events acknowledged, its clock."""

    model_config = ConfigDict(extra="ignore")
    id: str = ""
    created: int = 0
    acked: int = 0
    clock: str | None = None
    app_build: str | None = None


class PushRequest(BaseModel):
    """Events stay plain JSON here: one that cannot be read must not refuse the others."""

    model_config = ConfigDict(extra="ignore")
    protocol: int
    request_id: str = Field(max_length=100)
    have: Position | None = None
    device: DeviceNote = Field(default_factory=DeviceNote)
    events: list[Any] = Field(max_length=MOST_EVENTS)
    definitions: list[Any] = Field(default_factory=list, max_length=20)


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
