"""The printed summary wastes no page: two pages first, then the annex, none with a line or two."""

import copy
import io

import pytest
from pypdf import PdfReader

from qcapp.access.signing import sign_document
from qcapp.documents.summary_pdf import build_summary_pdf
from tests.documents.samples import DRAWING, KEY, load_earlier_shape, load_sample

pytestmark = pytest.mark.slow

# Of text, beside the page's head and foot.
MIN_LINES = 10
HEAD_AND_FOOT = 2


def grow(name: str, *, stoves: int, conceded: int, measures: int, claims: str) -> dict:
    """A sample with so many stoves released, conceded and measured checks."""
    document = copy.deepcopy(load_sample(name))
    serials = [f"{document['batch']['code']}-{n:04}" for n in range(1, stoves + 1)]
    first = document["concessions"][0]
    document["concessions"] = [{**first, "serial": serial} for serial in serials[:conceded]]
    document["serials"] |= {"concession": serials[:conceded], "release": serials[conceded:]}
    document["measures"] = (document["measures"] * 2)[:measures]
    document["claims"] = claims
    if not claims:
        del document["claims"]
    return document


def print_pages(document: dict) -> list[list[str]]:
    """The lines of text of each page."""
    proof = sign_document(KEY, document)
    address = "https://yard.example/verify/abc"
    pdf = build_summary_pdf(proof, drawing_svg=DRAWING, verify_address=address, photos={})
    return [
        [line for line in page.extract_text().splitlines() if line.strip()]
        for page in PdfReader(io.BytesIO(pdf)).pages
    ]


@pytest.mark.parametrize("name", ["good", "bad"])
@pytest.mark.parametrize(
    ("stoves", "conceded", "measures"),
    [(1, 0, 0), (6, 1, 1), (25, 3, 2), (60, 5, 3), (120, 12, 4), (400, 6, 2), (1500, 30, 3)],
)
def test_two_pages_then_the_annex_and_none_nearly_empty(name, stoves, conceded, measures):
    claims = "Tell us within 30 days.\n" * (stoves % 4)
    pages = print_pages(
        grow(name, stoves=stoves, conceded=conceded, measures=measures, claims=claims.strip())
    )
    assert [place for place, lines in enumerate(pages, 1) if "Annex" in lines] == [3]
    counts = [len(lines) - HEAD_AND_FOOT for lines in pages]
    assert min(counts) >= MIN_LINES, counts


def test_a_summary_from_before_orders_and_serials_is_still_printed():
    proof = sign_document(KEY, load_earlier_shape())
    assert "serials" not in proof["summary"]
    pdf = build_summary_pdf(proof, drawing_svg=DRAWING, verify_address=None, photos={})
    assert len(PdfReader(io.BytesIO(pdf)).pages) >= 3
