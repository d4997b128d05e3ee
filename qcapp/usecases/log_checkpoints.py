"""Checkpoints of the log: signed for whoever keeps one, and held against the log later."""

import base64
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from qcapp.access.note import read_note, sign_note
from qcapp.access.signing_key import SigningKey
from qcapp.errors import BadInput, StartError
from qcapp.store import log
from qcapp.store.engine import Connection, Store
from qcapp.store.registry import facts
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.audit_trail import note
from qcapp.sync.protocol import MAX_WHOLE, LogProof
from qcapp.sync.restore_marker import RESTORED_AT
from qcapp.transparency.checkpoint import Checkpoint, name_log, parse_checkpoint
from qcapp.usecases.yard_key import load_yard_key

DOUBTS = "log_doubts"
MAX_DOUBTS = 20


@dataclass(frozen=True)
class LogDoubt:
    """A phone kept a checkpoint, signed here, of which this log is no continuation.

    size: records under it; note: the signed text; is_restored: a backup of fewer records was put
    back here, which would explain it.
    """

    device_id: str
    size: int
    note: str
    told_at: str
    is_restored: bool = False


def sign_checkpoint(connection: Connection, key: SigningKey, size: int | None = None) -> str:
    """A signed note of the log's first `size` records; None: of all."""
    name = name_log(log.get_server_id(connection))
    size = log.get_head(connection).seq if size is None else size
    return sign_note(key, name, Checkpoint(name, size, log.find_root(connection, size)).text)


def is_past(connection: Connection, kept: Checkpoint) -> bool:
    """Whether the log is one that only grew since this checkpoint of it."""
    return (
        kept.origin == name_log(log.get_server_id(connection))
        and kept.size <= log.get_head(connection).seq
        and kept.root == log.find_root(connection, kept.size)
    )


def show_log(store: Store, key_file: Path, since: int | None) -> LogProof | None:
    """A checkpoint of the log as it is, with the proof that it only grew since it had `since`
    records; without a proof where it has fewer. None while this server has no key to sign with.
    """
    try:
        key = load_yard_key(store, key_file)
    except StartError:
        # Whoever sends records must not be kept from it; the start says what is wrong.
        return None
    with store.reading() as connection:
        head = log.get_head(connection).seq
        known = since if since is not None and since <= head else None
        root, proof = log.find_growth(connection, known, head)
        name = name_log(log.get_server_id(connection))
    signed = sign_note(key, name, Checkpoint(name, head, root).text)
    return LogProof(note=signed, since=known, proof=_encode(proof))


def _encode(hashes: Sequence[bytes]) -> list[str]:
    return [base64.b64encode(one).decode() for one in hashes]


def take_doubt(store: Store, key_file: Path, kept: str, *, device_id: str, now: datetime) -> bool:
    """A phone says that the log is not the one of the checkpoint it kept: noted for the lead, and
    in the trail, where that is so and this yard's key signed it. Whether it was noted.
    """
    try:
        key, checkpoint = load_yard_key(store, key_file), parse_checkpoint(kept)
    except (StartError, BadInput):
        return False
    with store.writing() as connection:
        name = name_log(log.get_server_id(connection))
        is_signed = read_note(kept, name, bytes.fromhex(key.public_hex)) is not None
        known = _read_doubts(connection)
        if not is_signed or is_past(connection, checkpoint) or _has(known, device_id, kept):
            return False
        fresh = LogDoubt(device_id, checkpoint.size, kept, format_timestamp(now))
        kept_rows = [asdict(one) for one in [*known, fresh][-MAX_DOUBTS:]]
        facts.set_fact(connection, DOUBTS, json.dumps(kept_rows))
        about = {"phone": device_id, "number": str(checkpoint.size)}
        note(connection, action="log_contradicted", by="phone", about=about, now=now)
    return True


def _has(known: Sequence[LogDoubt], device_id: str, kept: str) -> bool:
    return any((one.device_id, one.note) == (device_id, kept) for one in known)


def list_doubts(connection: Connection) -> list[LogDoubt]:
    """Newest first."""
    restored = int(facts.find_fact(connection, RESTORED_AT) or MAX_WHOLE)
    return [
        LogDoubt(one.device_id, one.size, one.note, one.told_at, is_restored=restored < one.size)
        for one in reversed(_read_doubts(connection))
    ]


def _read_doubts(connection: Connection) -> list[LogDoubt]:
    return [LogDoubt(**one) for one in json.loads(facts.find_fact(connection, DOUBTS) or "[]")]
