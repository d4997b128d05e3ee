"""The tables. `log` is the truth; the tables below the line can be rebuilt from it."""

from sqlalchemy import (
    BigInteger,
    Column,
    Index,
    Integer,
    LargeBinary,
    Text,
    UniqueConstraint,
    false,
    text,
)
from sqlmodel import Field, SQLModel

# What a phone says of its numbers and clock has up to 53 bits. SQLite's own integers have 64 always.
WIDE = BigInteger().with_variant(Integer(), "sqlite")


class Meta(SQLModel, table=True):
    """Facts about this server: its identity (chain_0), yard name, reference tag."""

    __tablename__ = "meta"
    key: str = Field(primary_key=True)
    value: str


class Log(SQLModel, table=True):
    """Append-only. chain_n = SHA-256(chain_(n-1) || id || hash), chain_0 = server identity.

    state: counted, quarantined (kept, out of the figures until a person decides) or
    conflict (same id came with another content; the first one counts).
    """

    __tablename__ = "log"
    __table_args__ = (
        UniqueConstraint("id", "hash"),
        Index("log_stove_key", "stove_key", "seq"),
        Index("log_device", "device_id", "dev_seq"),
        # Few rows: what was set aside is the exception.
        Index(
            "log_quarantined",
            "batch",
            sqlite_where=text("state != 'counted'"),
            postgresql_where=text("state != 'counted'"),
        ),
        Index("log_kind", "kind", "seq"),
    )
    seq: int = Field(primary_key=True, sa_type=WIDE, sa_column_kwargs={"autoincrement": False})
    id: str
    hash: str
    chain: str
    state: str
    reason: str | None = None
    kind: str
    device_id: str
    dev_seq: int = Field(sa_type=WIDE)
    stove_key: str | None = None
    batch: str | None = None
    received_at: str
    relayed_by: str | None = None
    clock_offset_ms: int | None = Field(default=None, sa_type=WIDE)
    raw: str = Field(sa_column=Column(Text, nullable=False))


class Device(SQLModel, table=True):
    """A phone. Only the SHA-256 of its token is kept.

    next_token_hash: of a token given in exchange that the phone has not used yet; created,
    acked: what the phone said at its last push, unsent: what it had left after it.
    """

    __tablename__ = "device"
    id: str = Field(primary_key=True)
    name: str
    token_hash: str = Field(index=True)
    next_token_hash: str | None = Field(default=None, index=True)
    joined_at: str
    last_seen_at: str | None = None
    created: int = Field(default=0, sa_type=WIDE)
    acked: int = Field(default=0, sa_type=WIDE)
    unsent: int = Field(default=0, sa_type=WIDE)
    app_build: str | None = None
    clock_offset_ms: int | None = Field(default=None, sa_type=WIDE)
    revoked_at: str | None = None


class JoinCode(SQLModel, table=True):
    __tablename__ = "join_code"
    code_hash: str = Field(primary_key=True)
    name: str
    expires_at: str
    used_at: str | None = None


class Account(SQLModel, table=True):
    """Who signs in with a password: trainer, yard_lead or programme_lead. Only its Argon2id hash is kept."""

    __tablename__ = "account"
    code: str = Field(primary_key=True)
    name: str
    role: str
    password_hash: str
    made_at: str
    disabled_at: str | None = None


class Session(SQLModel, table=True):
    """A browser that signed in. Only the SHA-256 of its cookie is kept."""

    __tablename__ = "session"
    no: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(unique=True)
    account: str = Field(index=True)
    made_at: str
    last_used_at: str
    expires_at: str
    revoked_at: str | None = None


class Invite(SQLModel, table=True):
    """A one-time link that makes an account, or gives the account of that code a new password."""

    __tablename__ = "invite"
    token_hash: str = Field(primary_key=True)
    code: str | None = None
    name: str
    role: str
    made_by: str
    expires_at: str
    used_at: str | None = None


class Attempt(SQLModel, table=True):
    """Wrong tries of one account, address or code within a stretch of time; key holds a hash, no name."""

    __tablename__ = "attempt"
    key: str = Field(primary_key=True)
    count: int
    since: str


class Person(SQLModel, table=True):
    """An artisan or inspector; trades is a JSON list, started_on an ISO date. Whoever left stays: records name them."""

    __tablename__ = "person"
    code: str = Field(primary_key=True)
    name: str
    trades: str = "[]"
    started_on: str | None = None
    is_inspector: bool = False
    has_left: bool = Field(default=False, sa_column_kwargs={"server_default": false()})


class Batch(SQLModel, table=True):
    """attributes, crew and checklist_ids are JSON; opened_on an ISO date."""

    __tablename__ = "batch"
    code: str = Field(primary_key=True)
    title: str
    size: str
    planned: int
    attributes: str = "{}"
    crew: str = "{}"
    checklist_ids: str = "[]"
    serial_prefix: str = ""
    opened_on: str | None = None
    closed_at: str | None = None


class Revision(SQLModel, table=True):
    """A checklist as published, frozen by its hash; origin is file, yard (made here by the lead) or phone."""

    __tablename__ = "revision"
    hash: str = Field(primary_key=True)
    checklist_id: str = Field(index=True)
    revision: int
    stage: str
    origin: str
    published_at: str
    compiled: str = Field(sa_column=Column(Text, nullable=False))


class Photo(SQLModel, table=True):
    """size: whole length in bytes; content grows by appended pieces until it is whole."""

    __tablename__ = "photo"
    sha256: str = Field(primary_key=True)
    size: int
    is_whole: bool = False
    content: bytes = Field(default=b"", sa_column=Column(LargeBinary, nullable=False))


class SummaryLink(SQLModel, table=True):
    """A buyer's address of one batch. Only the SHA-256 of its token is kept."""

    __tablename__ = "summary_link"
    no: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(unique=True)
    batch: str = Field(index=True)
    label: str
    made_by: str
    made_at: str
    expires_at: str
    revoked_at: str | None = None


class LinkOpening(SQLModel, table=True):
    """One opening of a buyer's page: when, and which page or file."""

    __tablename__ = "link_opening"
    no: int | None = Field(default=None, primary_key=True)
    link_no: int = Field(foreign_key="summary_link.no", index=True)
    opened_at: str
    what: str


class PhotoName(SQLModel, table=True):
    """A photo that some record names: no other is shown to anybody."""

    __tablename__ = "photo_name"
    sha256: str = Field(primary_key=True)


# --- projections: made from the log, dropped and made again by `qcapp rebuild` ---


class CheckKey(SQLModel, table=True):
    """A small number for (checklist revision, check), with what the figures group by."""

    __tablename__ = "check_key"
    __table_args__ = (UniqueConstraint("checklist_hash", "check_id"),)
    no: int | None = Field(default=None, primary_key=True)
    checklist_hash: str
    check_id: str
    part: str
    step: str
    severity: str


class Stove(SQLModel, table=True):
    """The fold of one stove at one stage."""

    __tablename__ = "stove"
    __table_args__ = (Index("stove_batch", "batch", "stage"),)
    no: int | None = Field(default=None, primary_key=True)
    stove_key: str = Field(unique=True)
    stage: str
    serial: str
    batch: str
    size: str
    disposition: str
    inspections: int
    has_first_pass_fail: bool
    is_corrected_twice: bool
    last_at: str


class Inspection(SQLModel, table=True):
    """One effective visit; corrected and voided events are already applied."""

    __tablename__ = "inspection"
    __table_args__ = (Index("inspection_captured", "captured_at"),)
    no: int | None = Field(default=None, primary_key=True)
    stove_no: int = Field(foreign_key="stove.no", index=True)
    event_id: str = Field(unique=True)
    is_first_pass: bool
    inspector: str
    device_id: str
    captured_at: str
    disposition: str
    reason: str | None = None
    differences: str = "[]"


class Result(SQLModel, table=True):
    """One judged check of one visit. value is in the check's own unit."""

    __tablename__ = "result"
    __table_args__ = ({"sqlite_with_rowid": False},)
    inspection_no: int = Field(primary_key=True, foreign_key="inspection.no")
    check_no: int = Field(primary_key=True, foreign_key="check_key.no")
    artisan: str | None = None
    verdict: str
    is_fail: bool
    fault: str | None = None
    value: float | None = None


class Summary(SQLModel, table=True):
    """An issued summary; proof is the signed JSON text as it stands in its event.

    design: checklist id and size; result: accepted, gap or rejected where it decides the inspection
    of the next batches, else None. seq: the log number of the event.
    """

    __tablename__ = "summary"
    __table_args__ = (Index("summary_design", "design", "seq"),)
    batch: str = Field(primary_key=True)
    number: int = Field(primary_key=True)
    sha256: str = Field(index=True)
    issued_at: str
    seq: int
    design: str
    result: str | None = None
    may_reduce: bool
    is_restart: bool
    proof: str = Field(sa_column=Column(Text, nullable=False))
