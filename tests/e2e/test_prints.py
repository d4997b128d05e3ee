"""Every page that is worth printing fills its paper and carries yard and day on each sheet."""

import io
from datetime import UTC, datetime

import pytest
from pypdf import PageObject, PdfReader

from qcapp.access.summary_links import make_summary_link

# Of the paper's height: what stands in the margin lies below.
MARGIN = 0.06
# How far down the last line of a sheet must stand that another one follows, and how many letters
# the last sheet must hold.
MIN_FILLED = 0.5
MIN_LETTERS = 150
PAGES = (
    "/",
    "/trainer",
    "/trainer/steps",
    "/trainer/steps/finished-stove/cut-door-opening",
    "/trainer/faults",
    "/trainer/drift",
    "/trainer/batches",
    "/batches/B5",
    "/batches/B5/figures",
    "/stoves/finished/B6-061",
    "buyer",
)


@pytest.fixture(scope="module")
def reader(chromium, demo):
    context = chromium.new_context()
    demo.sign_in(context)
    yield context.new_page()
    context.close()


def find_lowest(sheet: PageObject) -> float:
    """Where the last line above the margin stands: 0 is the top of the paper, 1 its foot."""
    height = float(sheet.mediabox.height)
    places = [0.0]

    def note(text, outer, inner, _font, _size):
        place = 1 - (inner[5] * outer[3] + outer[5]) / height
        if text.strip() and place < 1 - MARGIN:
            places.append(place)

    sheet.extract_text(visitor_text=note)
    return max(places)


@pytest.mark.parametrize("path", PAGES)
def test_no_sheet_is_wasted_and_each_says_what_it_is(reader, demo, path):
    if path == "buyer":
        store = demo.open_store()
        named = {"label": "buyer", "made_by": "lead", "days": 9}
        path = "/s/" + make_summary_link(store, batch="B5", now=datetime.now(UTC), **named)
        store.close()
    reader.goto(demo.address + path)
    sheets = PdfReader(io.BytesIO(reader.pdf(prefer_css_page_size=True))).pages
    filled = [find_lowest(sheet) for sheet in sheets]
    assert [round(share, 2) for share in filled[:-1] if share < MIN_FILLED] == [], filled
    said = [" ".join(sheet.extract_text().split()) for sheet in sheets]
    assert [text for text in said if "Ombeluro yard" not in text or "printed 20" not in text] == []
    assert len(said) == 1 or len(said[-1]) >= MIN_LETTERS, said[-1]
