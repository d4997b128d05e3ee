"""Pages that print: each choice gives its PDF, what cannot be is said plainly."""

import io

import pytest
from pypdf import PdfReader

from qcapp.inspection.serial import CHECKED, build_tag_serial
from qcapp.store.registry import batches
from tests.builders import BATCHES, open_yard
from tests.web.typist import FormReader

pytestmark = pytest.mark.slow


@pytest.fixture
def yard():
    return open_yard()


def read_pdf(answer) -> str:
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/pdf", (
        answer.text
    )
    return "".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)


@pytest.mark.parametrize("address", ["/yard/sheets", "/yard/tags", "/yard/entry"])
def test_page_opens_is_reached_from_the_yard_and_carries_the_caution(yard, address):
    answer = yard.client.get(address)
    assert answer.status_code == 200 and "not a safety certificate" in answer.text
    assert (
        "/yard/sheets" in yard.client.get("/yard").text
        and address in yard.client.get("/yard/sheets").text
    )


def test_form_of_the_sheets_page_makes_a_sheet(yard):
    form = FormReader(yard.client.get("/yard/sheets").text).fields
    text = read_pdf(
        yard.client.get(
            "/yard/sheets.pdf",
            params={**form, "checklist": "small-stove", "batch": "B1", "stoves": "5"},
        )
    )
    assert (
        "Small stove, size medium" in text
        and "97 to 103 mm" in text
        and "Test yard" in text
        and "A01" in text
    )


def test_form_of_the_tags_page_makes_tags_by_the_batchs_own_rule(yard):
    form = FormReader(yard.client.get("/yard/tags").text).fields
    assert form == {"batch": "B1", "first": "1", "last": "20"}
    plain = read_pdf(yard.client.get("/yard/tags.pdf", params=form))
    assert "B1-020" in plain and build_tag_serial("B1-020") not in plain
    with yard.store.writing() as connection:
        batches.save_batches(connection, [{**BATCHES[0], "attributes": {CHECKED: True}}])
    assert build_tag_serial("B1-020") in read_pdf(yard.client.get("/yard/tags.pdf", params=form))


def test_papers_speak_the_language_of_whoever_prints_them(yard):
    sheet = read_pdf(yard.client.get("/yard/sheets.pdf?checklist=small-stove&batch=B1&language=fr"))
    assert (
        "Feuille de contrôle" in sheet and "taille moyenne" in sheet and "Check sheet" not in sheet
    )
    tags = read_pdf(yard.client.get("/yard/tags.pdf?batch=B1&language=pt"))
    assert "First, tamanho médio, fogões 1 a 20" in tags and "Stove tags" not in tags


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/yard/sheets.pdf?checklist=none", 404),
        ("/yard/sheets.pdf?checklist=small-stove&size=huge", 400),
        ("/yard/sheets.pdf?checklist=small-stove&stoves=3", 400),
        ("/yard/sheets.pdf?checklist=small-stove&stoves=x", 422),
        ("/yard/sheets.pdf?checklist=small-stove&batch=B9", 404),
        ("/yard/tags.pdf?batch=B9", 404),
        ("/yard/tags.pdf?batch=B1&first=5&last=4", 400),
        ("/yard/tags.pdf?batch=B1&first=0", 400),
        ("/yard/tags.pdf?batch=B1&last=100000", 400),
    ],
)
def test_paper_that_cannot_be_is_said_plainly(yard, address, status):
    answer = yard.client.get(address)
    assert answer.status_code == status and "This did not work" in answer.text
