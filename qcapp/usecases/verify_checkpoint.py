"""An old checkpoint of a log, held against the log as it is or against a newer summary."""

import json
from collections.abc import Mapping
from typing import Any

from qcapp.access.note import read_note
from qcapp.access.signing import Finding
from qcapp.errors import BadInput
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.transparency.checkpoint import Checkpoint, name_log, parse_checkpoint
from qcapp.transparency.merkle import is_consistent

PLACE = "checkpoint"


def find_note(text: str) -> str:
    """The signed checkpoint in a text: as it stands, or in a signed summary (JSON). Raises
    BadInput.
    """
    try:
        note = json.loads(text)["summary"]["rests_on"]["checkpoint"]
    except ValueError:
        note = text.replace("\r\n", "\n").strip() + "\n"
    except (KeyError, TypeError):
        note = None
    if not isinstance(note, str):
        raise BadInput(
            "this summary was issued before checkpoints were kept in them",
            PLACE,
            "give another summary, or a checkpoint from a phone or a programme",
        )
    parse_checkpoint(note)
    return note


def check_signature(note: str, public_hex: str | None) -> list[Finding]:
    """Whether the key signed the checkpoint; public_hex None: nothing can be said."""
    name = parse_checkpoint(note).origin
    if public_hex is None or read_note(note, name, bytes.fromhex(public_hex)) is not None:
        return []
    return [Finding(PLACE, f"it is not signed with the key {public_hex}")]


def check_use(store: Store, note: str, public_hex: str | None) -> list[Finding]:
    """Why a checkpoint says nothing about this log; public_hex None: whose it is is not asked."""
    with store.reading() as connection:
        name = name_log(log.get_server_id(connection))
    origin = parse_checkpoint(note).origin
    if origin != name:
        return [Finding(PLACE, f"it is of another log ({origin}; this one is {name})")]
    return check_signature(note, public_hex)


def check_against_log(store: Store, old: Checkpoint) -> list[Finding]:
    """Whether the log only grew since, from a checkpoint of this log. Calculated from the records
    alone, in one pass.
    """
    with store.reading() as connection:
        size = log.get_head(connection).seq
        root = log.calculate_root(connection, old.size)
    if root is None:
        said = f"it covers {old.size} records, but the log has {size}: records were cut off"
        return [Finding(PLACE, said)]
    if root != old.root:
        said = (
            f"the first {old.size} records are not those it was made of: one was changed, "
            "removed or put in"
        )
        return [Finding(PLACE, said)]
    return []


def check_against_summary(document: Mapping[str, Any], old: Checkpoint) -> list[Finding]:
    """Whether the log that a newer summary rests on only grew since, by that file alone."""
    try:
        newer, proof = _read_growth(document, old)
    except (BadInput, LookupError, TypeError, ValueError, AttributeError):
        # Whoever has a key can sign anything.
        return [Finding(PLACE, "this summary has no checkpoint to hold it against")]
    if old.origin != newer.origin:
        return [Finding(PLACE, f"it is of another log ({old.origin})")]
    if proof is None:
        said = (
            "this summary has no proof from that checkpoint on; give the one of the summary that "
            "it replaces, or ask the yard to run qcapp verify --log --checkpoint"
        )
        return [Finding(PLACE, said)]
    if is_consistent(old.size, newer.size, proof, old.root, newer.root):
        return []
    said = f"the log of this summary does not continue it: something among the first {old.size} "
    return [Finding(PLACE, said + "records was changed, removed or put in")]


def _read_growth(
    document: Mapping[str, Any], old: Checkpoint
) -> tuple[Checkpoint, list[bytes] | None]:
    """The checkpoint of a summary, and its proof from the old one on where it has that."""
    rests_on = document["rests_on"]
    newer = parse_checkpoint(rests_on["checkpoint"])
    if old.size == newer.size:
        return newer, []
    grew = rests_on.get("grew_from") or {}
    if grew.get("seq") != old.size:
        return newer, None
    return newer, [bytes.fromhex(one) for one in grew["proof"]]
