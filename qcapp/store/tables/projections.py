"""Made from the log, dropped and made again by `qcapp rebuild`."""

from sqlalchemy import Column, Index, Text, UniqueConstraint, text
from sqlmodel import Field, SQLModel

from qcapp.store.tables.columns import get_table

# As its index says it, and as a query must say it to be answered by that.
WAITING = "disposition IN ('rework', 'hold')"
IS_STEP = "kind = 'step'"


class CheckKey(SQLModel, table=True):
    """A small number for (checklist revision, check), with what the figures group by.

    checklist: the id, the same for all revisions.
    """

    __tablename__ = "check_key"
    __table_args__ = (UniqueConstraint("checklist_hash", "check_id"),)
    no: int | None = Field(default=None, primary_key=True)
    checklist: str
    checklist_hash: str
    check_id: str
    part: str
    step: str
    severity: str


class Stove(SQLModel, table=True):
    """The fold of one stove at one stage. checklist: id of the one it was first inspected by.

    has_first_pass_gap: a check was left out at first pass. decided_by, decision_reason: where the
    lead decided about it while it was held, who and why.
    """

    __tablename__ = "stove"
    __table_args__ = (
        Index("stove_batch", "batch", "stage"),
        # Few rows: what waits is the exception.
        Index(
            "stove_waiting",
            "disposition",
            "batch",
            "stage",
            "last_at",
            sqlite_where=text(WAITING),
            postgresql_where=text(WAITING),
        ),
    )
    no: int | None = Field(default=None, primary_key=True)
    stove_key: str = Field(unique=True)
    stage: str
    checklist: str
    serial: str
    batch: str
    size: str
    disposition: str
    inspections: int
    has_first_pass_fail: bool
    has_first_pass_gap: bool
    is_corrected_twice: bool
    last_at: str
    decided_by: str | None = None
    decision_reason: str | None = None


class MadeFrom(SQLModel, table=True):
    """This stove is, or holds, the piece that was inspected at the stage as from_key; that one need
    not be here. from_serial: as it was typed.
    """

    __tablename__ = "made_from"
    __table_args__ = ({"sqlite_with_rowid": False},)
    stove_key: str = Field(primary_key=True)
    stage: str = Field(primary_key=True)
    from_key: str = Field(index=True)
    from_serial: str


class Inspection(SQLModel, table=True):
    """One inspection as it counts: corrections and voids are already applied."""

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
    """One judged check of one inspection. value is in the check's unit."""

    __tablename__ = "result"
    __table_args__ = ({"sqlite_with_rowid": False},)
    inspection_no: int = Field(primary_key=True, foreign_key="inspection.no")
    check_no: int = Field(primary_key=True, foreign_key="check_key.no")
    artisan: str | None = None
    verdict: str
    is_fail: bool
    fault: str | None = None
    value: float | None = None


class Tally(SQLModel, table=True):
    """Sums over stoves by day and batch: TallyKey and Counts of inspection/tallies.py.

    "" where a kind is not divided by a column.
    """

    __tablename__ = "tally"
    # By batch: the key itself; by days; by artisan; the first day of a step.
    __table_args__ = (
        Index("tally_day", "kind", "day"),
        Index("tally_artisan", "artisan", "kind", "day"),
        Index(
            *("tally_step_day", "checklist", "name", "day"),
            sqlite_where=text(IS_STEP),
            postgresql_where=text(IS_STEP),
        ),
        {"sqlite_with_rowid": False},
    )
    batch: str = Field(primary_key=True)
    kind: str = Field(primary_key=True)
    name: str = Field(primary_key=True)
    day: str = Field(primary_key=True)
    size: str = Field(primary_key=True)
    stage: str = Field(primary_key=True)
    checklist: str = Field(primary_key=True)
    is_first_pass: bool = Field(primary_key=True)
    part: str = Field(primary_key=True)
    step: str = Field(primary_key=True)
    severity: str = Field(primary_key=True)
    fault: str = Field(primary_key=True)
    artisan: str = Field(primary_key=True)
    inspected: int
    failed: int
    doubtful: int
    critical: int
    major: int
    minor: int


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


CHECK_KEY = get_table(CheckKey)
STOVE = get_table(Stove)
# As people name it: with its serial as it was typed first.
STOVE_NAME = (STOVE.c.stage + "/" + STOVE.c.serial).label("stove_name")
INSPECTION = get_table(Inspection)
RESULT = get_table(Result)
TALLY = get_table(Tally)
MADE_FROM = get_table(MadeFrom)
SUMMARY = get_table(Summary)
