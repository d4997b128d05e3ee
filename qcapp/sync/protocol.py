"""What phone and server send each other. Fields are added, never re-used."""

from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    ValidatorFunctionWrapHandler,
    WrapValidator,
)

from qcapp.i18n.messages import Message
from qcapp.inspection.signature import KEY_LENGTH
from qcapp.transparency.checkpoint import MAX_CHARACTERS

PROTOCOL = 1
MAX_EVENTS = 100
MAX_BYTES = 262_144
MAX_EVENT_BYTES = 16_384
MAX_DEFINITIONS = 20
MAX_DRAWINGS = 2000
# Of a file with all of that and photos.
MAX_FILE_BYTES = 64_000_000

# JavaScript's whole numbers; a database's are larger.
MAX_WHOLE = 2**53 - 1
PRINTABLE = "^[\\x20-\\x7e]*$"

Outcome = Literal["created", "duplicate", "quarantined", "conflict", "retry"]
Lineage = Literal["ok", "diverged"]


class Position(BaseModel):
    """A place in the log: its number and the running hash there."""

    seq: int = Field(ge=0, le=MAX_WHOLE)
    chain: str


class DeviceNote(BaseModel):
    """What the phone says of itself: events made, events acknowledged, its clock.

    key: with which it signs (inspection/signature.py); restart: SHA-256 (hex) of the secret by
    which it is known when its memory is lost.
    """

    model_config = ConfigDict(extra="ignore")
    id: str = Field("", max_length=64)
    created: int = Field(0, ge=0, le=MAX_WHOLE)
    acked: int = Field(0, ge=0, le=MAX_WHOLE)
    clock: str | None = Field(None, max_length=64)
    app_build: str | None = Field(None, max_length=100, pattern=PRINTABLE)
    key: str | None = Field(None, max_length=KEY_LENGTH)
    restart: str | None = Field(None, pattern="^[0-9a-f]{64}$")


def _read_note(value: Any, read: ValidatorFunctionWrapHandler) -> DeviceNote:
    try:
        note: DeviceNote = read(value)
    except ValidationError:
        # What a phone says of itself must never keep its work out.
        return DeviceNote()
    return note


class LogProof(BaseModel):
    """note: a signed checkpoint of the whole log; proof: hashes (base64) by which it only grew
    since it had `since` records (RFC 9162); since None: that cannot be shown, or nobody asked.
    """

    note: str
    since: int | None = None
    proof: list[str] = Field(default_factory=list)


class PushRequest(BaseModel):
    """Events stay plain JSON here: one that cannot be read must not refuse the others.

    signatures: of the events, in their order; fewer, or what is none, where an event has none.
    """

    model_config = ConfigDict(extra="ignore")
    protocol: int = Field(strict=True)
    request_id: str = Field(max_length=100, pattern=PRINTABLE)
    have: Position | None = None
    # Records under the newest checkpoint that the phone keeps; an older one, signed here, that the
    # log does not continue.
    since: int | None = Field(None, ge=0, le=MAX_WHOLE)
    doubt: str | None = Field(None, max_length=MAX_CHARACTERS)
    device: Annotated[DeviceNote, WrapValidator(_read_note)] = Field(default_factory=DeviceNote)
    events: list[Any] = Field(max_length=MAX_EVENTS)
    signatures: list[Any] = Field(default_factory=list)
    definitions: list[Any] = Field(default_factory=list, max_length=MAX_DEFINITIONS)
    # What shows these definitions: brought_drawings.py.
    drawings: list[Any] = Field(default_factory=list, max_length=MAX_DRAWINGS)


class EventResult(BaseModel):
    """reason: a code of quarantine_reasons.py, which the phone words.

    seq: its place in the log, so that the phone folds a stove in the server's order.
    """

    id: str | None
    outcome: Outcome
    reason: Message | None = None
    seq: int | None = None


class PushAnswer(BaseModel):
    protocol: int = PROTOCOL
    request_id: str
    lineage: Lineage
    head: Position
    results: list[EventResult]
    log: LogProof | None = None


class PulledEvent(BaseModel):
    seq: int
    state: str
    event: Any


class PullAnswer(BaseModel):
    protocol: int = PROTOCOL
    lineage: Lineage
    events: list[PulledEvent]
    cursor: str
    head: Position
    more: bool
