"""Papers in French and Portuguese: whole, on the paper, marked as what they are."""

import io
from datetime import UTC, datetime

import pytest
from pypdf import PdfReader

from qcapp.access.signing import sign_document
from qcapp.documents.check_sheet_pdf import SheetRequest, build_check_sheet_pdf
from qcapp.documents.summary_pdf import build_summary_pdf
from qcapp.documents.tags_pdf import Tag, build_tags_pdf
from qcapp.i18n.catalogue import load_locale
from qcapp.reports.summary_messages import CAUTIONS, MESSAGES
from tests.catalogues import extract
from tests.documents.looking import has_white_edge, look_at, read_pages, squeeze
from tests.documents.samples import DRAWING, KEY, NAMES, load_sample
from tests.documents.test_check_sheet_pdf import find_overlaps, load

pytestmark = pytest.mark.slow

LANGUAGES = ("fr", "pt")
DATED = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def build_summary(name: str, language: str, **change) -> bytes:
    proof = sign_document(KEY, load_sample(name))
    return build_summary_pdf(
        proof,
        drawing_svg=DRAWING,
        verify_address="https://yard.example/v",
        photos={},
        language=language,
        **change,
    )


def build_sheet(language: str, stoves: int) -> bytes:
    compiled, checklist_hash, drawing = load("finished-stove")
    request = SheetRequest(yard="Test yard", size="medium", stoves=stoves, language=language)
    return build_check_sheet_pdf(
        compiled, checklist_hash=checklist_hash, drawing_svg=drawing, request=request, dated=DATED
    )


def build_tags(language: str) -> bytes:
    tags = [Tag(f"B1-{place:03}.7", f"B1-{place:03}") for place in range(1, 26)]
    return build_tags_pdf(
        tags, yard="Test yard", batch="B1", line="First", dated=DATED, language=language
    )


def list_english(*sources: str):
    """Texts of two words or more of these modules, squeezed,
    cut before anything that is filled in.
    """
    for message in extract("figures"):
        if message.id and {place.split("/")[-1] for place, _line in message.locations} & set(
            sources
        ):
            for text in message.id if isinstance(message.id, tuple) else (message.id,):
                start = text.split("%")[0]
                if len(start.split()) > 2:
                    yield squeeze(start)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", NAMES)
def test_summary_holds_no_english_of_ours_and_says_which_text_is_signed(name, language):
    pdf = build_summary(name, language)
    text, words = "".join(read_pages(pdf)), load_locale(language)
    english = list(
        list_english(
            "summary_texts.py", "paper_words.py", "summary_messages.py", "decision_reasons.py"
        )
    )
    assert len(english) > 40 and not [found for found in english if found in text]
    for caution in CAUTIONS:
        assert squeeze(words.translate(MESSAGES.word(caution()))) in text
    note = {"fr": "c’est l’anglais qui compte", "pt": "vale o inglês"}[language]
    assert squeeze(note) in text and squeeze(note) not in "".join(
        read_pages(build_summary(name, "en"))
    )
    reader = PdfReader(io.BytesIO(pdf))
    assert reader.trailer["/Root"]["/Lang"].startswith(language)
    assert reader.metadata.title.startswith(
        "Example yard: " + {"fr": "Lot ", "pt": "Lote "}[language]
    )


def test_figures_and_days_are_written_as_the_language_writes_them():
    document = load_sample("bad")
    text = "".join(read_pages(build_summary("bad", "fr")))
    assert squeeze("63,8 % (50,9 % à 74,9 %)") in text and "63.8" not in text
    assert f"±{document['measures'][0]['uncertainty'].replace('.', ',')}mm" in text
    assert squeeze("24/11/2026 16:05:09 UTC") in text and document["issued_at"][:10] not in text
    figures = squeeze(document["yard"]["server_id"][:4]), squeeze(document["batch"]["title"])
    assert all(figure in text for figure in figures)


def test_titles_of_the_checklist_come_in_the_language_where_it_has_them():
    ask = load_sample("bad")["measures"][0]["ask"]
    text = "".join(
        read_pages(build_summary("bad", "fr", checklist_texts={ask: "Largeur de la porte"}))
    )
    assert squeeze("Largeur de la porte, mm") in text and squeeze(ask) not in text


@pytest.mark.parametrize("stoves", [1, 5])
@pytest.mark.parametrize("language", LANGUAGES)
def test_check_sheet_is_whole_and_its_boxes_stay_apart(monkeypatch, language, stoves):
    pdf, look = look_at(monkeypatch, lambda: build_sheet(language, stoves))
    text = "".join(read_pages(pdf))
    english = list(list_english("sheet_texts.py", "paper_words.py"))
    assert len(english) > 12 and not [found for found in english if found in text]
    for words in {
        "fr": ("monoxyde de carbone", "libération", "97 à 103 mm", "tôlerie"),
        "pt": ("monóxido de carbono", "libertação", "97 a 103 mm", "montagem"),
    }[language]:
        assert squeeze(words) in text
    # The boxes keep the letters by which a sheet is typed in.
    marks = {
        "fr": "P passe, F en faute, N ne s’applique pas",
        "pt": "P passa, F falha, N não se aplica",
    }
    assert squeeze(marks[language]) in text and text.count("PF") >= 5
    for page in range(1, len(look.pictures) + 1):
        assert not find_overlaps([box for box in look.boxes if box["page"] == page])
    assert all(has_white_edge(picture, 8) for picture in look.pictures)


@pytest.mark.parametrize("language", LANGUAGES)
def test_tags_are_said_and_stay_on_the_paper(monkeypatch, language):
    pdf, look = look_at(monkeypatch, lambda: build_tags(language))
    text = "".join(read_pages(pdf))
    assert (
        squeeze(
            {"fr": "Étiquettes de foyers, lot B1", "pt": "Etiquetas de fogões, lote B1"}[language]
        )
        in text
    )
    assert (
        not [found for found in list_english("tags_pdf.py") if found in text] and "B1-025.7" in text
    )
    assert PdfReader(io.BytesIO(pdf)).trailer["/Root"]["/Lang"].startswith(language)
    assert len(look.pictures) == 2 and all(has_white_edge(picture, 8) for picture in look.pictures)
