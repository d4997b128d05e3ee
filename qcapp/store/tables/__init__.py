"""The tables. The log is the truth; the projections can be made again from it."""

from qcapp.store.tables.projections import (
    CHECK_KEY,
    INSPECTION,
    MADE_FROM,
    RESULT,
    STOVE,
    STOVE_NAME,
    SUMMARY,
    TALLY,
)
from qcapp.store.tables.records import INTAKE, LOG, META, PHOTO, PHOTO_NAME, PHOTO_UPLOAD
from qcapp.store.tables.registry import (
    ACCOUNT,
    ATTEMPT,
    BATCH,
    DEVICE,
    INVITE,
    JOIN_CODE,
    LINK_OPENING,
    PERSON,
    REVISION,
    SESSION,
    SUMMARY_LINK,
)

__all__ = [
    "ACCOUNT",
    "ATTEMPT",
    "BATCH",
    "CHECK_KEY",
    "DEVICE",
    "INSPECTION",
    "INTAKE",
    "INVITE",
    "JOIN_CODE",
    "LINK_OPENING",
    "LOG",
    "MADE_FROM",
    "META",
    "PERSON",
    "PHOTO",
    "PHOTO_NAME",
    "PHOTO_UPLOAD",
    "RESULT",
    "REVISION",
    "SESSION",
    "STOVE",
    "STOVE_NAME",
    "SUMMARY",
    "SUMMARY_LINK",
    "TALLY",
]
