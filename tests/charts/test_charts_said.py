"""Charts in another language: titles, axes, descriptions and tables are said,
names of people are not.
"""

import re
from xml.etree import ElementTree

import pytest

from qcapp.charts.control import draw_control
from qcapp.charts.curve import CurvePoint, RunMark, draw_curve
from qcapp.charts.drawing import mark_drawing
from qcapp.charts.frame import percent
from qcapp.charts.histogram import Bin, draw_histogram
from qcapp.charts.label import WIDTH
from qcapp.charts.pareto import Bar, draw_pareto
from qcapp.charts.probability import draw_probability
from qcapp.charts.rates import RateMark, draw_rates
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.phrase import phrase
from qcapp.reports.control_row import ControlRow, name_point
from tests.catalogues import extract

SVG = "{http://www.w3.org/2000/svg}"
NAME = "Yard"  # Also a word of the catalogue.
TITLE = phrase("Single readings")


def draw_all(words):
    """One chart of each kind; no word of it is typed here but names."""
    yield from draw_shares(words)
    yield from draw_readings(words)
    yield from draw_controls(words)


def draw_shares(words):
    yield draw_rates(
        [RateMark(NAME, 2, 40, 0.05, 0.01, 0.17, "round")],
        mean=0.04,
        title=TITLE,
        name="a",
        locale=words,
    )
    yield draw_rates([], mean=None, title=TITLE, name="b", locale=words)
    yield draw_curve(
        [RunMark(1, 5, 2, 5, 0.12, 0.77)],
        [CurvePoint(0, 0.5, 0.2, 0.7), CurvePoint(9, 0.1, 0.0, 0.4)],
        experienced=(0.01, 0.05),
        title=TITLE,
        name="c",
        is_from_first=False,
        locale=words,
    )
    yield draw_pareto([Bar(NAME, 9, 9, 164)], title=TITLE, name="d", locale=words)
    yield draw_pareto([], title=TITLE, name="e", locale=words)


def draw_readings(words):
    yield draw_histogram(
        [Bin(1, 1.5, 3), Bin(1.5, 2, 4)],
        lower=1.25,
        upper=90,
        outside=3,
        unit="mm",
        title=TITLE,
        name="f",
        locale=words,
    )
    yield draw_histogram(
        [Bin(1, 1.5, 3)],
        lower=2,
        upper=2,
        outside=3,
        unit="mm",
        title=TITLE,
        name="g",
        locale=words,
    )
    yield draw_probability(
        [1.5, 2.25, 2.5, 3],
        mean=2.3,
        sd=0.6,
        limits=[1.25],
        unit="mm",
        title=TITLE,
        name="h",
        locale=words,
    )


def draw_controls(words):
    labels = tuple(
        name_point(f"finished/{NAME}-{at}", "2026-10-27T08:00:00.000Z") for at in range(3)
    )
    row = {"labels": labels, "values": (1.5, -2.25, 3.0), "centre": 0.5, "highs": (2.5,) * 3}
    flags = {2: phrase("beyond its limit")}
    yield draw_control(
        ControlRow(TITLE, "mm", lows=(-3.5,) * 3, flags=flags, began=1, **row),
        name="i",
        locale=words,
    )
    yield draw_control(
        ControlRow(TITLE, phrase("sd"), lows=(None,) * 3, flags={}, other=(0.5, 0.5, 0.5), **row),
        name="j",
        locale=words,
    )


def texts_of(chart) -> list[str]:
    root = ElementTree.fromstring(
        chart.svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    )
    return (
        [text for text in root.itertext() if text]
        + list(chart.columns)
        + [cell for row in chart.rows for cell in row]
        + [chart.title]
    )


@pytest.mark.parametrize("language", ["fr", "pt"])
def test_no_english_word_and_no_decimal_point_is_left(language):
    pieces = {
        piece.strip(" :;,().")
        for message in extract("figures")
        if message.id
        for text in ([message.id] if isinstance(message.id, str) else message.id)
        for piece in re.split(r"%\(\w+\)s|%%", text)
        if any("charts/" in place for place, _line in message.locations)
    }
    own = {piece for piece in pieces if len(piece) > 3} - {
        "point",
        "points",
        "points, centre",
        "centre",
    }
    assert {"made with this step", "stands out", "running share"} <= own
    for chart in draw_all(load_locale(language)):
        for text in texts_of(chart):
            assert not [piece for piece in own if re.search(rf"\b{re.escape(piece)}\b", text)], text
            assert not re.search(r"\d\.\d", text), text


def strip_words(svg):
    """Without the legend, whose rows follow the length of its words, nor what sets long ones
    closer.
    """
    unlike = r'<g class="legend">.*</g>|viewBox="[^"]*"| textLength="[^"]*" lengthAdjust="\w+"'
    picture = re.sub(unlike, "", svg)
    return re.sub(r">[^<]*<", "><", picture)


@pytest.mark.parametrize("language", ["fr", "pt"])
def test_names_stay_and_the_picture_is_the_same(language):
    for english, said in zip(
        draw_all(load_locale("en")), draw_all(load_locale(language)), strict=True
    ):
        assert strip_words(english.svg) == strip_words(said.svg)
        assert any(NAME in text for text in texts_of(english)) == any(
            NAME in text for text in texts_of(said)
        )
        for text in ElementTree.fromstring(
            said.svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
        ).iter(f"{SVG}text"):
            assert 0 <= float(text.get("x")) <= WIDTH


def test_french_reads_well():
    charts = list(draw_all(load_locale("fr")))
    assert charts[0].rows == (
        (NAME, "2", "40", "5,0\u00a0%", "1,0\u00a0%", "17\u00a0%"),
    ) and "moyenne 4,0\u00a0%" in texts_of(charts[0])
    assert (
        "centre 0,50\u00a0; dernières limites −3,50 à 2,50 mm" in texts_of(charts[8])
        and charts[8].rows[2][3] == "au-delà de sa limite"
    )
    assert charts[8].rows[0][0] == "Yard-0, 27/10/2026" and charts[9].columns[1] == "valeur (é.-t.)"


def test_english_is_the_default_and_the_map_is_said_too():
    assert draw_pareto([], title="none", name="q").columns == (
        "fault",
        "failed checks",
        "running share",
    )
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg"><g id="door" class="part"><rect class="hit" x="2"'
        ' y="2" width="4" height="4"/></g></svg>'
    )
    root = ElementTree.fromstring(
        mark_drawing(
            drawing,
            {"door": percent(0.032)},
            title=phrase("Failed"),
            description=NAME,
            locale=load_locale("fr"),
        )
    )
    assert root.get("aria-label") == f"Non conformes. {NAME}" and [
        text.text for text in root.iter(f"{SVG}text")
    ] == ["3,2\u00a0%"]


def test_axis_tells_its_ticks_apart_with_no_more_decimals_than_that_takes():
    for values, wanted in (
        ([0, -2, 5, 4, 1], {"−2", "0", "2", "4"}),
        ([0.21, 0.35, 0.3, 0.25], {"0.25", "0.30"}),
        ([100.0, 130.0, 115.0], {"100", "110", "120", "130"}),
    ):
        none = (None,) * len(values)
        row = ControlRow("t", "mm", (), tuple(values), values[0], none, none, {})
        chart = draw_control(row, name="t")
        said = set(re.findall(r">([−0-9.]+)</text>", chart.svg))
        assert wanted <= said, said
