"""A summary tells the uncertainty with which values from photos were judged."""

import io
import re

import pytest
from pypdf import PdfReader

from qcapp.documents.summary_pdf import build_summary_pdf
from qcapp.reports.summary_measures import list_measures
from qcapp.store.queries.batch_facts import load_batch_facts
from qcapp.store.queries.summaries import find_proof
from qcapp.store.registry import batches
from tests.documents.samples import DRAWING
from tests.page_text import text_of
from tests.photo_yard import inspect, margin_of, open_photo_yard, take


@pytest.fixture
def yard(tmp_path):
    yard = open_photo_yard(tmp_path)
    with yard.store.writing() as connection:
        batch = batches.get_batch(connection, "B1")
        liners = {**batch, "code": "L", "checklist_ids": ["fired"], "serial_prefix": "L-"}
        batches.save_batches(connection, [liners])
    return yard


def taken(value, uncertainty):
    return {
        "values": [value],
        **take("margin", margin={"value": value, "uncertainty": uncertainty}),
    }


def describe(yard):
    with yard.store.reading() as connection:
        facts = load_batch_facts(connection, batches.get_batch(connection, "L"))
    return {one["check"]: one for one in list_measures(facts)}


def push(yard, serial, margin, **change):
    yard.push(inspect(yard, serial, {"margin": margin}, batch="L", **change))


def test_values_taken_from_photos_are_counted_with_their_uncertainties(yard):
    push(yard, "L-001", taken("12.3", "0.4"))
    push(yard, "L-002", taken("14.0", "0.7"))
    push(yard, "L-003", margin_of("12.0", "13", "30"))
    push(yard, "L-004", {"values": ["13", "14"]})
    # The second inspection of a stove is no first pass.
    push(yard, "L-001", taken("12.5", "0.2"))
    # Of another batch.
    yard.push(inspect(yard, "B1-001", {"margin": taken("12.3", "0.1")}))
    found = describe(yard)
    assert (found["margin"]["n"], found["margin"]["uncertainty"]) == (4, "0.8")
    assert found["margin"]["by_photo"] == {"n": 2, "least": "0.4", "most": "0.7"}
    # Of a count there is no uncertainty, and no photo was taken of the rim.
    assert (found["holes"]["by_photo"], found["rim"]["by_photo"]) == (None, None)


def test_batch_without_photos_says_nothing_of_them(yard):
    push(yard, "L-001", {"values": ["13", "14"]})
    assert describe(yard)["margin"]["by_photo"] is None


def test_buyer_reads_it_on_page_and_paper(yard):
    push(yard, "L-001", taken("12.3", "0.4"))
    push(yard, "L-002", taken("14.0", "0.7"))
    form = yard.client.get("/batches/L/issue").text
    seen = re.search(r'name="seen" value="([0-9]+)"', form)[1]
    assert yard.client.post("/batches/L/summaries", data={"seen": seen}).status_code == 200
    page = text_of(yard.client.get("/batches/L/summaries/1"))
    assert (
        "Measured by photo: 2 of 2, each judged with its photo's own uncertainty, ±0.4 to ±0.7 mm."
        in page
    )
    with yard.store.reading() as connection:
        proof = find_proof(connection, "L")
    pdf = build_summary_pdf(proof, drawing_svg=DRAWING, verify_address=None, photos={})
    printed = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    assert "by photo: 2, each with its own: ± 0.4 to 0.7 mm" in re.sub(r"\s+", " ", printed)
