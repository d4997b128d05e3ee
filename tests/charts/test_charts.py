"""Charts: well-formed, titled, described, inside their frame, with a table of the same figures."""

from xml.etree import ElementTree

import pytest

from qcapp.charts.curve import CurvePoint, RunMark, draw_curve
from qcapp.charts.dots import draw_dots, scale_dots
from qcapp.charts.drawing import mark_drawing
from qcapp.charts.frame import Scale, find_top
from qcapp.charts.groups import GroupMark, draw_groups
from qcapp.charts.histogram import Bin, draw_histogram
from qcapp.charts.label import WIDTH
from qcapp.charts.pareto import Bar, draw_pareto
from qcapp.charts.rates import RateMark, draw_rates

SVG = "{http://www.w3.org/2000/svg}"
NASTY = 'A & B <"x">'


def charts():
    marks = [
        RateMark(NASTY, 0, 5, 0.02, 0.0, 0.3, "hollow"),
        RateMark("Two", 30, 40, 0.7, 0.6, 0.85, "cornered"),
        RateMark("Three", 0, 40, 0.01, 0.0, 0.06, "pointed"),
    ]
    yield draw_rates(marks, mean=0.4, title=NASTY, name="r")
    runs = [RunMark(1, 5, 5, 5, 0.57, 1.0), RunMark(6, 10, 0, 5, 0.0, 0.43)]
    points = [CurvePoint(0, 0.9, 0.5, 1.0), CurvePoint(9, 0.1, 0.0, 0.4)]
    yield draw_curve(
        runs, points, experienced=(0.01, 0.05), title=NASTY, name="c", is_from_first=True
    )
    yield draw_curve(
        [RunMark(1, 1, 0, 1, 0.0, 0.79)],
        [],
        experienced=None,
        title="One stove",
        name="d",
        is_from_first=False,
    )
    yield draw_pareto([Bar(NASTY, 9, 9, 10), Bar("b", 1, 10, 10)], title="f", name="p")
    yield draw_pareto([], title="none", name="q")
    yield draw_rates([], mean=None, title="none", name="s")
    groups = [
        GroupMark(NASTY, 30, 40, 0.75, 0.6, 0.86, is_toned=True),
        GroupMark("Two", 0, 5, 0.0, 0.0, 0.43, is_toned=False),
    ]
    yield draw_groups(groups, title="groups", unit="share", name="g")
    yield draw_groups([], title="no group", unit="share", name="h")


@pytest.mark.parametrize("chart", list(charts()), ids=lambda chart: chart.title)
def test_chart_is_titled_described_and_tabled(chart):
    root = ElementTree.fromstring(
        chart.svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
    )
    ids = {child.get("id") for child in root}
    assert set(root.get("aria-labelledby").split()) <= ids
    assert root.find(f"{SVG}title").text == chart.title and root.find(f"{SVG}desc").text
    assert all(len(row) == len(chart.columns) for row in chart.rows)
    for text in root.iter(f"{SVG}text"):
        assert 0 <= float(text.get("x")) <= WIDTH
    assert "style=" not in chart.svg and "#" not in chart.svg, "colours belong to the page's style"


def test_mark_stands_where_its_rate_is():
    scale = Scale(0.0, 0.5, 8, WIDTH - 8)
    chart = draw_rates(
        [RateMark("One", 5, 20, 0.25, 0.1, 0.45, "round")], mean=None, title="t", name="n"
    )
    assert f'cx="{scale.place(0.25):g}"' in chart.svg


def test_scale_holds_every_rate_and_never_magnifies_a_tiny_one():
    assert (
        find_top([0.001]) == 0.1
        and find_top([0.31]) == 0.4
        and find_top([0.97]) == 1.0
        and find_top([]) == 0.1
    )


def test_drawing_carries_a_badge_on_each_part_with_a_mark():
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><g id="door" class="part"><rect'
        ' class="hit" x="2" y="2" width="4" height="4"/></g><g id="legs" class="part"><rect'
        ' class="hit" x="0" y="0" width="2" height="2"/></g></svg>'
    )
    root = ElementTree.fromstring(
        mark_drawing(drawing, {"door": 7, "legs": 0, "gone": 3}, title="T", description="door 7")
    )
    assert [text.text for text in root.iter(f"{SVG}text")] == ["7"]
    assert root.get("aria-label") == "T. door 7"
    marked = ElementTree.fromstring(
        mark_drawing(drawing, {"door": "3.2 %", "legs": "11 %"}, title="T", description="")
    )
    assert [group.get("class") for group in marked.findall(f"{SVG}g")][:2] == [
        "part",
        "part failed",
    ]


def test_histogram_tones_what_lies_beyond_a_limit_and_tells_all_counts():
    bins = [Bin(96.5, 97.5, 2), Bin(97.5, 98.5, 0), Bin(98.5, 99.5, 7), Bin(103.5, 104.5, 1)]
    chart = draw_histogram(
        bins, lower=97.0, upper=103.0, outside=1, unit="mm", title="Width", name="w"
    )
    root = ElementTree.fromstring(chart.svg)
    kinds = [box.get("class") for box in root.findall("rect")]
    assert kinds == ["bar inside", "bar inside", "bar outside"]
    words = [text.text for text in root.iter("text")]
    assert {"2", "7", "1", "lower 97", "upper 103"} <= set(words)
    assert chart.rows[-1] == ("103.5", "104.5", "1") and "limit: upper 103 mm" in chart.svg


def test_exact_limit_is_one_line():
    chart = draw_histogram(
        [Bin(18.5, 19.5, 72)],
        lower=19.0,
        upper=19.0,
        outside=0,
        unit="holes",
        title="Holes",
        name="h",
    )
    lines = ElementTree.fromstring(chart.svg).findall("path[@class='mean']")
    assert len(lines) == 1 and "exactly 19" in chart.svg


def test_bar_is_as_long_as_its_rate():
    marks = [
        GroupMark("One", 10, 40, 0.25, 0.14, 0.4, is_toned=True),
        GroupMark("Two", 5, 40, 0.125, 0.05, 0.26, is_toned=False),
    ]
    chart = draw_groups(marks, title="t", unit="share", name="n")
    root = ElementTree.fromstring(chart.svg)
    one, two = (
        float(bar.get("width"))
        for bar in root.iter("rect")
        if float(bar.get("x")) == 8 and bar.get("height") == "20"
    )
    assert one == pytest.approx(2 * two, rel=0.01)


def test_few_do_not_stretch_the_common_axis_and_their_line_is_said_to_go_on():
    many = GroupMark("One", 10, 40, 0.25, 0.14, 0.4, is_toned=True)
    few = GroupMark("Two", 2, 2, 1.0, 0.34, 1.0, is_toned=True)
    scale = scale_dots([many, few], 20)
    assert scale.high == 0.4 and scale_dots([few], 20).high == 1.0
    assert f'cx="{scale.place(0.25):g}"' in draw_dots([many], scale)
    beyond = draw_dots([few], scale)
    assert "<circle" not in beyond, "no dot where the rate is not"
    assert beyond.count('class="interval"') == 2 and draw_dots([many], scale).count("interval") == 1
