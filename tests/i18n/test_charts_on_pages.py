"""Every chart of every page is read by eye and by machine: a finding as its title, a unit on its
axis, each mark in its legend, its figures as a table; on a phone, and printed in grey.
"""

import pytest
from playwright.sync_api import sync_playwright

from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path
from tests.i18n.charts_seen import FINDING, list_charts, list_tables
from tests.i18n.test_pages_fit import answer
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
        # The table's own name ends with that of its chart.
        if not any(name.endswith(chart.title) for name in tables):
            yield f"{chart.title!r} has no table"


def test_no_chart_lacks_a_finding_a_unit_a_legend_or_a_table(pages):
    lacks = [(address, lack) for address, html in pages.items() for lack in find_lacks(html)]
    assert lacks == []
    kinds = {kind for html in pages.values() for one in list_charts(html) for kind in one.drawn}
    assert {"bar", "bar inside", "mark above", "mark few", "mean", "began"} <= kinds


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


# What of a page's charts cannot be read on a phone: as it stands there, or printed in grey.
FIND_UNREADABLE = """() => {
  const found = [], say = (svg, what) => found.push(
    `${svg.querySelector("title")?.textContent ?? "dots"}: ${what}`);
  const lies = (a, b) => a.left < b.right - 1.5 && b.left < a.right - 1.5 &&
    a.top < b.bottom - 4 && b.top < a.bottom - 4;
  const light = color => {
    const [r, g, b, alpha = 1] = color.match(/[\\d.]+/g).map(Number);
    return alpha === 0 ? 255 : 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const look = mark => {
    const style = getComputedStyle(mark);
    const tone = value => value === "none" ? "none" : Math.round(light(value) / 48);
    const shape = mark.getAttribute("d")?.replace(/^M[^a-z]*/, "");
    return [mark.tagName, shape, tone(style.fill), tone(style.stroke), style.strokeDasharray,
      style.strokeWidth].join(" ");
  };
  for (const svg of document.querySelectorAll("svg.chart")) {
    const box = svg.getBoundingClientRect();
    if (box.width === 0) continue;
    if (box.right > document.documentElement.clientWidth + 1) say(svg, "leaves the window");
    const texts = [...svg.querySelectorAll("text")];
    const scale = box.width / svg.viewBox.baseVal.width;
    if (texts.length && 13 * scale < 10.5) say(svg, `letters of ${13 * scale} px`);
    const boxes = texts.map(one => one.getBoundingClientRect());
    texts.forEach((one, at) => {
      if (boxes[at].right > box.right + 2 || boxes[at].left < box.left - 2 ||
          boxes[at].bottom > box.bottom + 4) say(svg, `${one.textContent} is cut off`);
      const other = boxes.findIndex((b, to) => to > at && lies(boxes[at], b));
      if (other > 0) say(svg, `${one.textContent} lies on ${texts[other].textContent}`);
    });
    const keys = [...svg.querySelectorAll(".legend > :not(text):not(.run)")].map(look);
    keys.forEach((one, at) => {
      if (keys.indexOf(one) < at) say(svg, `two keys look alike in grey: ${one}`);
    });
  }
  return [...new Set(found)];
}"""


@pytest.fixture(scope="module")
def phone(filled):
    """A small window whose requests are answered by the app in this process."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=get_chromium_path(), args=list(CHROMIUM_FLAGS)
        )
        page = browser.new_context(**PHONE).new_page()
        page.route("**/*", lambda route: answer(route, filled))
        yield page
        browser.close()


def test_every_chart_is_read_on_a_phone_and_in_grey(phone, pages):
    unreadable = {}
    for address in pages:
        phone.emulate_media(media="screen")
        phone.goto(f"http://testserver{address}")
        phone.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
        found = phone.evaluate(FIND_UNREADABLE)
        phone.emulate_media(media="print")
        found += [f"printed: {one}" for one in phone.evaluate(FIND_UNREADABLE) if "alike" in one]
        if found:
            unreadable[address] = found
    assert unreadable == {}


def test_what_cannot_be_read_is_found(phone):
    phone.emulate_media(media="screen")
    phone.set_content("""<meta name="viewport" content="width=device-width, minimum-scale=1">
    <style>svg { width: 700px } .a { fill: rgb(200 0 0) } .b { fill: rgb(0 60 0) }</style>
    <svg class="chart" viewBox="0 0 328 90"><title>Bad</title>
    <text x="10" y="20">One</text><text x="12" y="22">Two</text><text x="320" y="50">Cut off</text>
    <g class="legend"><circle class="a" cx="9" cy="70" r="5"/>
    <circle class="b" cx="50" cy="70" r="5"/></g></svg>""")
    found = " ".join(phone.evaluate(FIND_UNREADABLE))
    for word in ("leaves the window", "lies on", "cut off", "alike"):
        assert word in found, word
