"""What came from phones and is kept as it came: the log and its photos; facts about this server."""

from sqlalchemy import Column, Index, LargeBinary, Text, UniqueConstraint, text
from sqlmodel import Field, SQLModel

from qcapp.store.tables.columns import WIDE, get_table


class Meta(SQLModel, table=True):
    """Facts about this server: its identity (chain_0), what the lead said of the yard, marks."""

    __tablename__ = "meta"
    key: str = Field(primary_key=True)
    value: str


class Log(SQLModel, table=True):
    """Append-only. chain_n = SHA-256(chain_(n-1) || id || hash), chain_0 = server identity.

    state: counted, quarantined (kept, out of the figures until a person decides) or
    conflict (same id came with another content; the first one counts). signature: of its phone over
    the hash (inspection/signature.py), as it came; None where none came.
    """

    __tablename__ = "log"
    __table_args__ = (
        UniqueConstraint("id", "hash"),
        Index("log_stove_key", "stove_key", "seq"),
        Index("log_device", "device_id", "dev_seq"),
        # Few rows: what does not count is the exception.
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
    signature: str | None = None


class TreeNode(SQLModel, table=True):
    """A whole subtree of the Merkle tree over the log, of every fourth level (store/log/tree.py).

    level: 4, 8, ...; place: from the left, beginning with 0; it covers 2^level records.
    """

    __tablename__ = "tree_node"
    level: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    place: int = Field(primary_key=True, sa_type=WIDE, sa_column_kwargs={"autoincrement": False})
    hash: str


class Photo(SQLModel, table=True):
    """size: whole length in bytes; content grows by appended pieces until it is whole."""

    __tablename__ = "photo"
    sha256: str = Field(primary_key=True)
    size: int
    is_whole: bool = False
    content: bytes = Field(default=b"", sa_column=Column(LargeBinary, nullable=False))


class PhotoName(SQLModel, table=True):
    """A photo that some record names: no other is shown to anybody."""

    __tablename__ = "photo_name"
    sha256: str = Field(primary_key=True)


class PhotoUpload(SQLModel, table=True):
    """A photo that a phone began to send before any record named it; day: ISO, UTC."""

    __tablename__ = "photo_upload"
    sha256: str = Field(primary_key=True)
    device_id: str = Field(index=True)
    day: str


class Intake(SQLModel, table=True):
    """What one phone handed in on one day (ISO, UTC): new records, photos begun, bytes of both."""

    __tablename__ = "intake"
    device_id: str = Field(primary_key=True)
    day: str = Field(primary_key=True)
    records: int = 0
    photos: int = 0
    bytes: int = Field(default=0, sa_type=WIDE)


META = get_table(Meta)
LOG = get_table(Log)
TREE_NODE = get_table(TreeNode)
PHOTO = get_table(Photo)
PHOTO_NAME = get_table(PhotoName)
PHOTO_UPLOAD = get_table(PhotoUpload)
INTAKE = get_table(Intake)
