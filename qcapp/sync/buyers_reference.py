"""What a phone of the buyer's inspector needs: the offered stoves of one batch and their checklist,
no maker and no other batch.
"""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.inspection.study import RECHECK
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.store.registry import devices, drawings
from qcapp.store.registry.checklists import load_checklists

# Who looks, in the records of such a phone: the yard has no person for it.
INSPECTOR = "BUYER"


def build_buyers_reference(
    store: Store, batch: str, phone: str, *, yard_name: str
) -> dict[str, Any]:
    """As build_reference gives it. phone: whose name the inspector has.

    The re-check is a study of every offered stove, of the newest summary; without one there is
    nothing to check again.
    """
    with store.reading() as connection:
        proof = summaries.find_proof(connection, batch)
        document = proof["summary"] if proof else None
        kept = load_checklists(connection, [document["checklist"]["hash"]]) if document else {}
        rest = {
            "yard": {"name": yard_name},
            "people": [_describe_inspector(devices.find_name(connection, phone) or INSPECTOR)],
            "batches": [],
            "checklists": [
                {"hash": key, "compiled": checklist.compiled()} for key, checklist in kept.items()
            ],
            "drawings": {
                name: source
                for checklist in kept.values()
                for name, source in drawings.list_shown_here(
                    connection, checklist.hash, checklist.compiled()
                ).items()
            },
            "studies": [
                _ask_recheck(document, checklist)
                for checklist in kept.values()
                if document is not None
            ],
            "second_looks": [],
        }
    return {"tag": _hash(rest), **rest}


def _describe_inspector(name: str) -> dict[str, Any]:
    return {"code": INSPECTOR, "name": name, "trades": [], "is_inspector": True}


def _ask_recheck(document: Mapping[str, Any], checklist: Checklist) -> dict[str, Any]:
    batch, serials = document["batch"], document.get("serials") or {}
    offered = sorted([*serials.get("release", ()), *serials.get("concession", ())])
    return {
        "id": f"{RECHECK}{batch['code']}",
        "title": batch["code"],
        "checklist_hash": document["checklist"]["hash"],
        "batch": batch["code"],
        "size": batch["size"],
        "batch_attributes": batch["attributes"],
        "checks": [
            check["check"]
            for check in document.get("checks", ())
            if checklist.check_by_id[check["check"]].answer_key is not None
        ],
        "orders": {INSPECTOR: [{"stove": serial, "repeat": 1} for serial in offered]},
    }


def _hash(rest: Mapping[str, Any]) -> str:
    return hashlib.sha256(json.dumps(rest, sort_keys=True).encode()).hexdigest()[:32]
