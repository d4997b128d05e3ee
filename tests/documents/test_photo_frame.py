"""The printed frame: what is on the sheet is what is looked for in a picture of it."""

import io
import json
import subprocess
from datetime import UTC, datetime

import numpy as np
import pytest
from pypdf import PdfReader

from qcapp.documents.photo_frame import (
    HALF_HEIGHTS,
    MARK_SIDE,
    OPENING_RADII,
    PAPERS,
    RULER_LENGTH,
    build_photo_frame_pdf,
    list_marks,
    place_ruler,
)
from tests.builders import open_yard
from tests.conftest import CHECKOUT
from tests.documents.looking import look_at, read_pages
from tests.holes.node import measure

DATED = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
MODULE = CHECKOUT / "static" / "phone" / "js" / "holes" / "frame.js"


def ask_module() -> dict:
    code = (
        f"import * as frame from {json.dumps(MODULE.as_uri())};"
        "process.stdout.write(JSON.stringify({side: frame.MARK_SIDE, ruler: frame.RULER_LENGTH,"
        "opening: frame.OPENING_RADIUS, a4: frame.listMarks('a4'),"
        "letter: frame.listMarks('letter')}))"
    )
    done = subprocess.run(
        ["node", "--input-type=module", "-e", code], check=True, capture_output=True, timeout=60
    )
    return json.loads(done.stdout)


def test_sheet_and_module_have_the_same_figures():
    said = ask_module()
    assert (said["side"], said["ruler"]) == (MARK_SIDE, RULER_LENGTH)
    assert said["opening"] == OPENING_RADII[-1]
    assert {paper: [tuple(one) for one in said[paper]] for paper in PAPERS} == {
        paper: list_marks(paper) for paper in PAPERS
    }


@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_on_the_sheet_touches_another_thing_or_what_a_printer_leaves_white(paper):
    width, height = PAPERS[paper]
    half = MARK_SIDE / 2
    for x, y in list_marks(paper):
        assert abs(x) + half <= width / 2 - 7
        assert abs(y) + half <= height / 2 - 7
        assert np.hypot(x, y) - half * np.sqrt(2) > OPENING_RADII[-1] + 4
    assert len(set(list_marks(paper))) == 12
    assert OPENING_RADII[-1] + 4 < place_ruler(paper) < HALF_HEIGHTS[paper] - half - 4


@pytest.mark.parametrize("paper", PAPERS)
def test_printed_marks_are_found_where_they_should_be(paper, tmp_path):
    with pytest.MonkeyPatch.context() as patch:
        _pdf, look = look_at(
            patch, lambda: build_photo_frame_pdf(paper, yard="Test yard", dated=DATED)
        )
    (page,) = look.pictures
    grey = np.asarray(page.convert("L"))
    (answer,) = measure(tmp_path, [(grey, {"wanted": "frame"})])
    assert answer["marks"] == 12
    assert answer["residual"] < 0.2
    width = PAPERS[paper][0]
    assert answer["grain"] == pytest.approx(width / grey.shape[1], rel=0.006)


def test_sheet_says_how_it_is_used_in_the_readers_language():
    said = read_pages(build_photo_frame_pdf("a4", yard="Test yard", dated=DATED))
    text = " ".join(said)
    assert "100" in text
    assert "180" in text


@pytest.mark.parametrize("paper", PAPERS)
def test_yard_prints_the_frame(paper):
    """From the page of check sheets, on the paper that was asked for."""
    client = open_yard().client
    assert "/yard/photo-frame.pdf" in client.get("/yard/sheets").text
    answer = client.get(f"/yard/photo-frame.pdf?paper={paper}")
    assert answer.headers["content-type"] == "application/pdf"
    box = PdfReader(io.BytesIO(answer.content)).pages[0].mediabox
    in_mm = [float(side) / 72 * 25.4 for side in (box.width, box.height)]
    assert in_mm == pytest.approx(PAPERS[paper], abs=0.1)
