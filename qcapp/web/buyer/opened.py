"""What every address behind a buyer's link begins with: one of the summaries of its batch."""

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import Query

from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.queries import summaries
from qcapp.store.registry.summary_links import SummaryLink
from qcapp.web.layout.file_names import name_file

Number = Annotated[int | None, Query(ge=1)]


def find_proof(store: Store, link: SummaryLink, number: int | None = None) -> dict[str, Any]:
    """The signed summary, the newest without a number. Raises NotFound."""
    with store.reading() as connection:
        proof = summaries.find_proof(connection, link.batch, number)
    if proof is None:
        raise NotFound(
            phrase("there is no such summary of this batch"),
            str(number or ""),
            phrase("open the link without a number"),
        )
    return proof


def name_batch(proof: Mapping[str, Any]) -> str:
    """How the files of a batch begin, in letters that every disk takes: upper-yard-B5."""
    yard, code = proof["summary"]["yard"]["name"], proof["summary"]["batch"]["code"]
    return name_file(yard.lower(), code)
