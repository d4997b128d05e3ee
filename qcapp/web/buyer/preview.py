"""An issued summary as the lead sees it, before or beside the buyer's link."""

import json
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.web.buyer.opened import name_batch
from qcapp.web.buyer.summary_view import show_proof
from qcapp.web.deps import DrawingsDep, StoreDep
from qcapp.web.rules import allow

router = APIRouter(prefix="/batches/{code}", include_in_schema=False)


@router.get("/summaries/{number}.json", dependencies=[allow("see_batches")])
def get_proof(code: str, number: int, store: StoreDep) -> Response:
    proof = _find(store, code, number)
    text = json.dumps(proof, ensure_ascii=False, indent=1)
    headers = {
        "Content-Disposition": f'attachment; filename="{name_batch(proof)}-summary-{number}.json"',
        "X-Content-Type-Options": "nosniff",
    }
    return Response(text, media_type="application/json", headers=headers)


@router.get("/summaries/{number}", dependencies=[allow("see_batches")])
def preview(
    request: Request, code: str, number: int, store: StoreDep, drawings: DrawingsDep
) -> HTMLResponse:
    """The buyer's page as the lead may read it before giving the link."""
    return show_proof(request, _find(store, code, number), drawings, store)


def _find(store: Store, code: str, number: int) -> dict[str, Any]:
    with store.reading() as connection:
        proof = summaries.find_proof(connection, code, number)
    if proof is None:
        raise NotFound(
            phrase("there is no such summary"),
            f"{code} {number}",
            phrase("see the list on the batch's page"),
        )
    return proof
