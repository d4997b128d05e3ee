"""Every chart of every page is read by eye and by machine: a finding as its title, a unit on its
axis, each mark in its legend, its figures as a table; on a phone, and printed in grey.
"""

import pytest

from tests.i18n.charts_seen import FINDING, list_charts, list_tables
from tests.reports.seen_page import parse_page

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def pages(filled):
    """{address: its HTML} of the pages with a chart."""
    found = {address: filled.client.get(address).text for address in filled.addresses}
    return {address: html for address, html in found.items() if 'class="chart' in html}


def find_lacks(html):
    """What each chart of a page lacks, in words."""
    tables = list_tables(html)
    (main,) = parse_page(html).find_all("main")
    # A chart that is folded away brings its title along.
    words = main.read(("",))
    for chart in list_charts(html):
        if not FINDING.search(chart.title):
            yield f"{chart.title!r} is no finding"
        if chart.title not in words:
            yield f"{chart.title!r} is not to be seen"
        if not all(chart.units or ("",)):
            yield f"{chart.title!r} has no unit"
        if chart.drawn - chart.named:
            yield f"{chart.title!r} does not say what {sorted(chart.drawn - chart.named)} are"
        if chart.title not in tables:
            yield f"{chart.title!r} has no table"


def test_no_chart_lacks_a_finding_a_unit_a_legend_or_a_table(pages):
    lacks = [(address, lack) for address, html in pages.items() for lack in find_lacks(html)]
    assert lacks == []
    kinds = {kind for html in pages.values() for one in list_charts(html) for kind in one.drawn}
    assert {"bar", "bar inside", "mark above", "mark few", "curve", "mean", "began"} <= kinds


def test_a_lack_is_found():
    svg = """<main><h2>{title}</h2><svg class="chart"><title>{title}</title>
    <path class="axis" d="M0 0"/><path class="curve" d="M0 0"/>{more}</svg>{table}</main>"""
    table = """<details><summary>figures</summary><div aria-label="{title}"><table><tbody><tr>
    <td>1</td></tr></tbody></table></div></details>"""
    legend = '<g class="legend"><path class="curve" d="M0 0"/></g><text class="unit">mm</text>'
    good = svg.format(title="3 of 9 fail", more=legend, table=table.format(title="3 of 9 fail"))
    assert list(find_lacks(good)) == []
    bare = svg.format(title="Readings", more="", table="")
    assert len(list(find_lacks(bare))) == 4
    assert len(list(find_lacks(good.replace("<h2>3 of 9 fail", "<h2>")))) == 1
