"""The printed summary: every figure on it, accessible form, and no text that can break it."""

import copy
import hashlib
import io
import re
from decimal import Decimal
from xml.etree import ElementTree

import pytest
from PIL import Image
from pypdf import PdfReader

from qcapp.access.signing import sign_document
from qcapp.documents.drawing_print import SVG, THICK, THIN, mark_for_print
from qcapp.documents.summary_pdf import build_summary_pdf
from qcapp.i18n.messages import is_message
from qcapp.reports.summary_messages import MESSAGES
from tests.documents.samples import DRAWING, KEY, NAMES, altered, list_leaves, load_sample

pytestmark = pytest.mark.slow

ADDRESS = "https://yard.example/verify/abc"
NASTY = (
    '*b* _i_ #panic("x") $x^2$ `raw` <l> @ref = H \\ // c /* "q" [x] {y} ~ --- #let a = 1; ]) } & <'
    " > &amp; 's"
)
# Keys whose text a person types or a checklist has; the rest is made by the program.
TYPED = {
    "name",
    "title",
    "reason",
    "ask",
    "fault",
    "wrote",
    "code",
    "unit",
    "serial",
    "issued_by",
    "by",
    "agreed_by",
    "size",
    "seed",
    "sample",
}
SHARES = {"rate", "low", "high", "level", "difference", "outgoing_limit", "lowest", "highest"}
SHARES |= {"expected_low", "expected_high"}
# Faults a stove, and indices, are no shares.
PLAIN = ("pp", "ppk", "per_stove")


def build(document: dict, **change) -> bytes:
    given = {"drawing_svg": DRAWING, "verify_address": ADDRESS, "photos": {}, **change}
    return build_summary_pdf(sign_document(KEY, document), **given)


def read_text(pdf: bytes) -> str:
    """All text without spaces: where lines break is the typesetter's."""
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]
    return squeeze("".join(pages))


def squeeze(text: str) -> str:
    return re.sub(r"[\s\u200b]", "", text)


def shown(path: tuple, value) -> str | None:
    """How a leaf of the document stands on the paper; None: not printed as text by itself."""
    inside = path[-1] if isinstance(path[-1], str) else path[-2]
    if (
        value is None
        or isinstance(value, (bool, dict, list))
        or path[0] in ("format", "messages", "drawing")
        or inside == "part"
    ):
        return None
    if inside == "check":
        return None  # Its question stands there.
    if inside in SHARES and path[-2] not in PLAIN and path[:2] != ("plan", "level"):
        return f"{(Decimal(value) * 100).normalize():f} %".replace("-", "−")
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", value):
        return f"{value[:10]} {value[11:19]} UTC"
    if inside in ("computed", "final"):
        return (
            {"accept": "Accept", "reject": "Reject", "not_ready": "Not ready"}[value]
            if inside == "final"
            else None
        )
    return value[:16] if inside == "photos" else str(value)


def as_read(value):
    """The document with its sentences in English."""
    if is_message(value):
        return str(MESSAGES.word_json(value))
    if isinstance(value, dict):
        return {key: as_read(part) for key, part in value.items()}
    return [as_read(part) for part in value] if isinstance(value, list) else value


@pytest.fixture(scope="module", params=NAMES)
def printed(request):
    document = load_sample(request.param)
    return document, build(document)


def test_every_figure_and_text_of_the_document_is_on_the_paper(printed):
    document, pdf = printed
    text = read_text(pdf)
    checked = 0
    for path, value in list_leaves(as_read(document)):
        wanted = shown(path, value)
        if wanted is not None:
            assert squeeze(wanted) in text, (path, wanted)
            checked += 1
    assert checked > 200
    proof = sign_document(KEY, document)
    for wanted in (
        proof["signed"]["summary_sha256"],
        KEY.public_hex,
        document["rests_on"]["chain"],
        ADDRESS,
        "A quality pass is not a safety certificate.",
    ):
        assert squeeze(wanted) in text
    first = squeeze("".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages[:2]))
    assert (
        squeeze(MESSAGES.word_json(document["promise"]["sentence"])) in first
        and {"accept": "Accept", "reject": "Reject"}[document["decision"]["final"]] in first
    )


def test_form_is_tagged_titled_and_fonts_are_inside(printed):
    document, pdf = printed
    reader = PdfReader(io.BytesIO(pdf))
    root = reader.trailer["/Root"]
    assert (
        root["/MarkInfo"]["/Marked"]
        and "/StructTreeRoot" in root
        and root["/Lang"].startswith("en")
        and root["/ViewerPreferences"]["/DisplayDocTitle"]
    )
    assert (
        reader.metadata.title
        == f"Example yard: Batch {document['batch']['code']}, summary {document['number']}"
    )
    assert b"pdfuaid:part" in root["/Metadata"].get_data()
    kinds = {kind for kind, _alt in list_tags(root["/StructTreeRoot"])}
    assert {"/H1", "/H2", "/Table", "/TH", "/TD", "/P", "/Figure"} <= kinds
    alts = [alt for kind, alt in list_tags(root["/StructTreeRoot"]) if kind == "/Figure"]
    assert len(alts) >= 3 and all(alts)
    fonts = [
        font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()
    ]
    inner = [
        font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        for font in fonts
        if "/DescendantFonts" in font
    ]
    assert inner and all("/FontFile3" in one or "/FontFile2" in one for one in inner)
    assert all(
        abs(float(page.mediabox.width) - 595.28) < 0.1
        and abs(float(page.mediabox.height) - 841.89) < 0.1
        for page in reader.pages
    )


def list_tags(node):
    node = node.get_object()
    if isinstance(node, list):
        for inner in node:
            yield from list_tags(inner)
    elif hasattr(node, "get"):
        if "/S" in node:
            yield node["/S"], node.get("/Alt")
        if "/K" in node:
            yield from list_tags(node["/K"])


def test_page_numbers_and_count(printed):
    document, pdf = printed
    pages = PdfReader(io.BytesIO(pdf)).pages
    assert len(pages) == {"G4": 4, "H2": 5}[document["batch"]["code"]]
    for number, page in enumerate(pages, 1):
        text = squeeze(page.extract_text())
        assert f"Page{number}of{len(pages)}" in text
        assert squeeze(f"Batch {document['batch']['code']}, summary {document['number']}") in text


def test_same_proof_gives_the_same_bytes_and_the_date_is_the_summarys(printed):
    document, pdf = printed
    assert build(document) == pdf
    assert (
        PdfReader(io.BytesIO(pdf)).metadata.creation_date.isoformat()[:19]
        == document["issued_at"][:19]
    )


def typed(value, text: str, key: str = ""):
    """The document with every text that a person types replaced; sentences stay data."""
    if is_message(value):
        return value
    if isinstance(value, dict):
        return {inner: typed(part, text, inner) for inner, part in value.items()}
    if isinstance(value, list):
        return [typed(part, text, key) for part in value]
    return text if isinstance(value, str) and key in TYPED else value


def test_markup_in_any_text_is_only_text():
    document = typed(
        altered(
            load_sample("bad"),
            ("decision", "overruled"),
            {"by": "x", "at": "2026-11-24T16:00:00.000Z", "reason": "x"},
        ),
        NASTY,
    )
    places = sum(value == NASTY for _path, value in list_leaves(document))
    assert places > 65
    text = read_text(build(document, verify_address='https://yard.example/"#x'))
    # Once for each place, but for what the first line and the headers repeat.
    assert text.count(squeeze(NASTY)) >= places
    assert 'https://yard.example/"#x' in text


def test_long_lists_break_over_pages_with_their_head_repeated():
    document = load_sample("bad")
    document["not_released"] = [
        {"serial": f"H2-{n:04d}", "disposition": "rework", "reason": f"Reason number {n}."}
        for n in range(300)
    ]
    pages = [squeeze(page.extract_text()) for page in PdfReader(io.BytesIO(build(document))).pages]
    assert all(
        any(f"H2-{n:04d}reworkReasonnumber{n}." in page for page in pages) for n in range(300)
    )
    with_rows = [page for page in pages if "reworkReasonnumber" in page]
    assert len(with_rows) >= 5 and all("StoveDispositionReason" in page for page in with_rows)


def test_empty_lists_and_unknown_values_print():
    document = load_sample("good")
    for key in (
        "parts",
        "causes",
        "measures",
        "concessions",
        "not_released",
        "inspectors",
        "tools",
        "other_checklists",
    ):
        document[key] = []
    document["plan"].update(
        level=None, regime=None, letter=None, seed=None, sample=[], agreed_at=None, agreed_by=None
    )
    document["first_pass"].update(rate=None, low=None, high=None)
    document["batch"].update(title="", attributes={}, opened_on=None, closed_at=None)
    assert "Nofaultwasfoundatthefirstinspection." in read_text(build(document))


@pytest.mark.parametrize(
    "bins",
    [
        [],
        [{"from": "98", "to": "98", "count": 0}],
        [{"from": f"{n}", "to": f"{n + 1}", "count": n} for n in range(40)],
    ],
)
def test_histogram_prints_whatever_its_bins(bins):
    document = load_sample("good")
    document["measures"][0].update(
        bins=bins, lower=None, upper=None, nominal=None, pp=None, ppk=None
    )
    assert "Widthofthedooropening" in read_text(build(document))


def test_very_long_words_are_broken_at_the_margin():
    word = "Unbreakable" * 12
    pages = [
        page.extract_text()
        for page in PdfReader(io.BytesIO(build(typed(load_sample("bad"), word)))).pages
    ]
    longest = max((run for page in pages for run in page.split()), key=len)
    # The text is 174 mm wide; in its small type a line holds some 120 signs.
    assert len(longest.replace("\u200b", "")) < 125 < len(word) and word in squeeze("".join(pages))


def test_characters_without_a_glyph_stand_as_their_number():
    text = "Ñandú йод مرحبا ½→✓ 你 ሰ 😀 \u202eturned a\nb\x00c"
    document = altered(load_sample("bad"), ("concessions", 0, "reason"), text)
    paper = read_text(build(document))
    for wanted in (
        "Ñandú",
        "йод",
        "½→✓",
        "[U+4F60]",
        "[U+1230]",
        "[U+1F600]",
        "[U+202E]turned",
        "abc",
        "Charactersthatthefontsofthispaperdonothave",
    ):
        assert wanted in paper, wanted
    assert "[U+" not in read_text(build(load_sample("bad")))


def make_photo(colour: str) -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", (64, 48), colour).save(stream, "JPEG")
    return stream.getvalue()


def test_photos_are_shown_named_and_a_broken_or_false_one_costs_nothing():
    good, cut, false, absent = (
        make_photo("gray"),
        make_photo("white")[:40],
        make_photo("black"),
        "0" * 64,
    )
    digests = [hashlib.sha256(good).hexdigest(), hashlib.sha256(cut).hexdigest(), "1" * 64, absent]
    document = altered(load_sample("bad"), ("concessions", 0, "photos"), digests)
    pdf = build(document, photos={digests[0]: good, digests[1]: cut, digests[2]: false})
    paper = read_text(pdf)
    assert f"Photo{digests[0][:16]}" in paper
    assert (
        squeeze(
            "Not printed, but kept by the yard: "
            + " ".join(f"photo {digest[:16]}" for digest in digests[1:])
        )
        in paper
    )
    assert sum(len(page.images) for page in PdfReader(io.BytesIO(pdf)).pages) == 1


def test_drawing_marks_the_failed_parts_by_weight_hatching_and_count():
    root = ElementTree.fromstring(
        mark_for_print(
            DRAWING, [*load_sample("bad")["parts"], {"part": "no-such", "failed": 2, "critical": 0}]
        )
    )
    groups = {
        group.get("id"): group for group in root.iter(f"{{{SVG}}}g") if group.get("class") == "part"
    }
    failed = {part["part"]: part["failed"] for part in load_sample("bad")["parts"]}
    for name, group in groups.items():
        assert group.get("stroke-width") == str(THICK if name in failed else THIN)
        fills = {shape.get("fill") for shape in group.iter() if shape.get("class") == "fill"}
        assert fills <= ({"url(#hatch)"} if name in failed else {"none"})
    assert sorted(int(text.text) for text in root.iter(f"{{{SVG}}}text")) == sorted(failed.values())
    assert [text.get("fill") for text in root.iter(f"{{{SVG}}}text")].count("white") == 1


def test_document_is_not_changed_by_printing():
    document = load_sample("bad")
    before = copy.deepcopy(document)
    build(document)
    assert document == before
