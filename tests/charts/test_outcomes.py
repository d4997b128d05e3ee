"""The bar of what became of the stoves, and a batch beside those before it."""

import re
from xml.etree import ElementTree

import pytest

from qcapp.charts.earlier import draw_earlier
from qcapp.charts.label import WIDTH
from qcapp.charts.outcomes import draw_outcomes
from qcapp.reports.totals import OUTCOMES

STOVES = {
    "inspected": 72,
    "released_at_once": 49,
    "released_later": 19,
    "concession": 2,
    "scrap": 1,
    "rework": 0,
    "hold": 1,
    "not_inspected": 8,
}
BEFORE = {
    "batches": 3,
    "stoves": 200,
    "good": 140,
    "lowest": "0.6",
    "highest": "0.8",
    "expected_low": "0.5",
    "expected_high": "0.9",
    "is_within": True,
}


def read_widths(svg):
    pieces = re.findall(r'<rect class="piece [\w]+" x="([\d.]+)%" y="1" width="([\d.]+)%"', svg)
    return [(float(start), float(width)) for start, width in pieces]


def test_pieces_stand_side_by_side_and_make_up_the_whole():
    bar = draw_outcomes(STOVES, name="b")
    assert [(piece.kind, piece.count) for piece in bar.pieces] == [
        (kind, STOVES[kind]) for kind in (*OUTCOMES, "not_inspected") if STOVES[kind]
    ]
    assert bar.of == 80 == sum(piece.count for piece in bar.pieces)
    widths = read_widths(bar.svg)
    end = 0.0
    for (start, width), piece in zip(widths, bar.pieces, strict=True):
        assert start == pytest.approx(end, abs=0.02)
        assert width == pytest.approx(100 * piece.count / 80, abs=0.6)
        end = start + width
    assert end == pytest.approx(100, abs=0.05)
    assert "49 Released at the first inspection" in bar.svg


def test_one_stove_of_thousands_is_still_seen_and_no_two_pieces_look_alike():
    bar = draw_outcomes({**STOVES, "released_at_once": 50_000}, name="b")
    assert min(width for _start, width in read_widths(bar.svg)) > 0.5
    patterns = re.findall(r"<pattern[^>]*>(.*?)</pattern>", bar.svg)
    looks = [re.sub(r"ground \w+", "ground", pattern) for pattern in patterns]
    assert len(set(looks)) == len(looks) == len(bar.pieces) - 1
    assert draw_outcomes(dict.fromkeys(STOVES, 0), name="b").of == 0


@pytest.mark.parametrize(
    ("good", "is_within", "says"),
    [
        (14, True, "This batch is like the 3 before it"),
        (19, False, "More stoves were good than in the 3 batches before"),
        (4, False, "Fewer stoves were good than in the 3 batches before"),
    ],
)
def test_batch_stands_at_its_share_and_the_title_says_what_that_means(good, is_within, says):
    earlier = {**BEFORE, "is_within": is_within}
    chart = draw_earlier(earlier, {"good": good, "of": 20}, name="e")
    assert chart.title == says
    root = ElementTree.fromstring(chart.svg)
    marks = [one for one in root.iter() if one.get("class", "").startswith("mark")]
    assert float(marks[0].get("cx")) == pytest.approx(14 + good / 20 * (WIDTH - 28), abs=0.1)
    assert chart.rows[0][1] == f"{good} of 20, {good * 5} %"
    assert chart.rows[3][1] == "50 % to 90 %"
