"""What the server finds when it compares an issued summary with its own log."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from qcapp.access.signing import check_proof, document_sha256
from qcapp.i18n.localized_text import COLON, SEMICOLON, join
from qcapp.i18n.phrase import phrase
from qcapp.inspection.event import event_hash
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.transparency.checkpoint import parse_checkpoint
from qcapp.usecases.log_checkpoints import is_past


@dataclass(frozen=True)
class Checked:
    """One thing looked at. detail: what was found where it is not good."""

    what: str
    is_good: bool
    detail: str = ""


def check_issued(
    store: Store, batch: str, proof: Mapping[str, Any], public_key: str
) -> list[Checked]:
    document = proof["summary"]
    findings = check_proof(proof, public_key)
    told = join(SEMICOLON, (join(COLON, (one.field, one.what)) for one in findings))
    signed = Checked(
        phrase("The signature is this yard's, and every field is as it was signed"),
        not findings,
        told,
    )
    rests_on = document["rests_on"]
    with store.reading() as connection:
        chain = log.find_chain(connection, rests_on["seq"])
        event = log.find_record(connection, rests_on["seq"] + 1)
        is_continued = "checkpoint" not in rests_on or is_past(
            connection, parse_checkpoint(rests_on["checkpoint"])
        )
    is_same_past = chain == rests_on["chain"]
    said = (
        phrase("the checkpoint in it is not of this log")
        if is_same_past
        else phrase("the running hash there is different now")
    )
    past = Checked(
        phrase(
            "The log up to record %(seq)s is the one this summary was made from",
            seq=str(rests_on["seq"]),
        ),
        is_same_past and is_continued,
        "" if is_same_past and is_continued else said,
    )
    return [signed, past, _check_event(event, batch, proof, chain)]


def _check_event(
    event: Any, batch: str, proof: Mapping[str, Any], chain_before: str | None
) -> Checked:
    what = phrase(
        "The log has this summary with the same content, and it follows from the record before it"
    )
    if event is None or event.kind != "summary" or event.batch != batch:
        return Checked(what, False, phrase("the log has no record of it at that place"))
    content = json.loads(event.raw)
    errors = []
    if document_sha256(content["body"]["proof"]["summary"]) != document_sha256(proof["summary"]):
        errors.append(phrase("the record is of another summary"))
    if event_hash(content) != event.hash:
        errors.append(phrase("the record does not match its hash"))
    if chain_before is None or log.link(chain_before, event.id, event.hash) != event.chain:
        errors.append(phrase("its running hash does not follow from the record before"))
    return Checked(what, not errors, join(SEMICOLON, errors))
