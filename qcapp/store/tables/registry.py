"""What the yard lead and the buyers' links keep up to date: rows that change in place."""

from sqlalchemy import Column, LargeBinary, Text
from sqlmodel import Field, SQLModel

from qcapp.store.tables.columns import WIDE, get_table


class Person(SQLModel, table=True):
    """An artisan or inspector; trades is a JSON list, started_on an ISO date.

    Whoever left stays: records name them.
    """

    __tablename__ = "person"
    code: str = Field(primary_key=True)
    name: str
    trades: str = "[]"
    started_on: str | None = None
    is_inspector: bool = False
    has_left: bool = False


class Batch(SQLModel, table=True):
    """attributes, crew and checklist_ids are JSON; opened_on an ISO date. ordered: stoves of the
    buyer's order, None where nobody said.
    """

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
    order_no: str = Field("", sa_column_kwargs={"server_default": ""})
    contract_no: str = Field("", sa_column_kwargs={"server_default": ""})
    ordered: int | None = None


class Revision(SQLModel, table=True):
    """A checklist as published, frozen by its hash.

    origin: file, yard (made here by the lead), phone (brought along with records, none of which
    counts), or accepted (by the lead, so that they do).
    """

    __tablename__ = "revision"
    hash: str = Field(primary_key=True)
    checklist_id: str = Field(index=True)
    revision: int
    stage: str
    origin: str
    published_at: str
    compiled: str = Field(sa_column=Column(Text, nullable=False))


class Draft(SQLModel, table=True):
    """A checklist in the making, as YAML: a row for each change, so that the last can be undone.

    version: counts from 1; begun_from: hash of the revision that was in use when it was begun;
    made_by: code of the account, empty where nobody signs in.
    """

    __tablename__ = "draft"
    checklist_id: str = Field(primary_key=True)
    version: int = Field(primary_key=True)
    text: str = Field(sa_column=Column(Text, nullable=False))
    begun_from: str
    made_by: str
    made_at: str


class YardDrawing(SQLModel, table=True):
    """An SVG that the yard uploaded. name: with a hash of what is in it, as a checklist names it.

    is_published: a published revision names it; else it goes with the last draft that does.
    """

    __tablename__ = "yard_drawing"
    name: str = Field(primary_key=True)
    svg: str = Field(sa_column=Column(Text, nullable=False))
    made_at: str
    is_published: bool = False


class PracticeLink(SQLModel, table=True):
    """Opens one draft to be practised on a phone. Only the SHA-256 of its token is kept."""

    __tablename__ = "practice_link"
    token_hash: str = Field(primary_key=True)
    checklist_id: str
    expires_at: str


class Drawing(SQLModel, table=True):
    """An SVG text that passed checklist/svg.py, by the SHA-256 of its UTF-8 bytes."""

    __tablename__ = "drawing"
    sha256: str = Field(primary_key=True)
    svg: str = Field(sa_column=Column(Text, nullable=False))


class RevisionDrawing(SQLModel, table=True):
    """What a revision shows under a name (round-stove.svg, pictures/tape-across.svg).

    refused: the text in place of sha256, where a phone brought one that is not let in.
    """

    __tablename__ = "revision_drawing"
    revision_hash: str = Field(primary_key=True)
    name: str = Field(primary_key=True, index=True)
    sha256: str | None = Field(default=None, foreign_key="drawing.sha256")
    refused: str | None = Field(default=None, sa_column=Column(Text))


class LessonMedia(SQLModel, table=True):
    """A picture or voice note of a lesson by the SHA-256 of its bytes. type: as its bytes say."""

    __tablename__ = "lesson_media"
    sha256: str = Field(primary_key=True)
    type: str
    content: bytes = Field(sa_column=Column(LargeBinary, nullable=False))


class SeenCheckpoint(SQLModel, table=True):
    """A checkpoint of another log that this server keeps (a programme, of its yards).

    address: of the yard; size: records under it; note: the signed text.
    """

    __tablename__ = "seen_checkpoint"
    address: str = Field(primary_key=True)
    size: int = Field(primary_key=True, sa_type=WIDE, sa_column_kwargs={"autoincrement": False})
    root: str = Field(primary_key=True)
    seen_at: str
    note: str = Field(sa_column=Column(Text, nullable=False))


class ChecklistOffer(SQLModel, table=True):
    """A checklist that the lead of several yards asks this yard to use. state: waiting, taken or
    declined; decided_by, decided_at, reason: of the yard's own lead.
    """

    __tablename__ = "checklist_offer"
    hash: str = Field(primary_key=True)
    checklist_id: str
    revision: int
    offered_by: str
    offered_at: str
    state: str
    decided_by: str | None = None
    decided_at: str | None = None
    reason: str | None = None
    compiled: str = Field(sa_column=Column(Text, nullable=False))


class Device(SQLModel, table=True):
    """A phone. Only the SHA-256 of its token is kept.

    next_token_hash: of a token given in exchange that the phone has not used yet; created,
    acked: what the phone said at its last push, unsent: what it had left after it. restart_hash:
    SHA-256 of the secret by which the same phone is known when it begins anew under another id;
    restart_of: the first id that it had. key_changed_at: when it joined again with another key.
    copied_number: the last one that two different records of this id share, copied_at: when the
    second of them came; then there are two copies of this phone. buyer_batch: of the buyer's
    inspector, who checks that batch again and gets nothing else.
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
    buyer_batch: str | None = None
    restart_of: str | None = Field(default=None, index=True)
    restart_hash: str | None = Field(default=None, index=True)
    key_changed_at: str | None = None
    copied_number: int | None = Field(default=None, sa_type=WIDE)
    copied_at: str | None = None


class DeviceKey(SQLModel, table=True):
    """A key with which a phone signs its records (inspection/signature.py).

    from_seq: the log record that says so; from there on its records are signed. retired_at: when
    the phone joined again with another one.
    """

    __tablename__ = "device_key"
    device_id: str = Field(primary_key=True)
    public_key: str = Field(primary_key=True)
    from_seq: int = Field(sa_type=WIDE)
    registered_at: str
    retired_at: str | None = None


class JoinCode(SQLModel, table=True):
    """What a phone joins with, once; name: what the yard calls the phone; buyer_batch: as of the
    phone.
    """

    __tablename__ = "join_code"
    code_hash: str = Field(primary_key=True)
    name: str
    expires_at: str
    used_at: str | None = None
    buyer_batch: str | None = None


class Account(SQLModel, table=True):
    """Who signs in with a password: trainer, yard_lead or programme_lead.

    Only the password's Argon2id hash is kept.
    """

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


class TrustedBrowser(SQLModel, table=True):
    """A browser in which an account signed in once. Only the SHA-256 of its cookie is kept."""

    __tablename__ = "trusted_browser"
    token_hash: str = Field(primary_key=True)
    account: str = Field(primary_key=True, index=True)
    made_at: str


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
    """Tries of one account, address or code within a stretch of time; key holds a hash, no name."""

    __tablename__ = "attempt"
    key: str = Field(primary_key=True)
    count: int
    since: str


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


class CardLink(SQLModel, table=True):
    """An artisan's address of his or her card. Only the SHA-256 of its token is kept."""

    __tablename__ = "card_link"
    no: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(unique=True)
    artisan: str = Field(index=True)
    language: str | None = None
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


PERSON = get_table(Person)
BATCH = get_table(Batch)
REVISION = get_table(Revision)
DRAFT = get_table(Draft)
YARD_DRAWING = get_table(YardDrawing)
PRACTICE_LINK = get_table(PracticeLink)
DRAWING = get_table(Drawing)
REVISION_DRAWING = get_table(RevisionDrawing)
SEEN_CHECKPOINT = get_table(SeenCheckpoint)
CHECKLIST_OFFER = get_table(ChecklistOffer)
DEVICE = get_table(Device)
DEVICE_KEY = get_table(DeviceKey)
JOIN_CODE = get_table(JoinCode)
ACCOUNT = get_table(Account)
SESSION = get_table(Session)
TRUSTED_BROWSER = get_table(TrustedBrowser)
INVITE = get_table(Invite)
ATTEMPT = get_table(Attempt)
SUMMARY_LINK = get_table(SummaryLink)
CARD_LINK = get_table(CardLink)
LINK_OPENING = get_table(LinkOpening)
LESSON_MEDIA = get_table(LessonMedia)
