"""No page of the filled yard prints a rate without its counts: "12 of 48 (25 %)", never "25 %"."""

import json
import re
from html import unescape

import pytest

pytestmark = pytest.mark.slow

RATE = re.compile(r"\d[\d.]* %")
# "3 of 40", "3 major of 40", "3 of the 40": how many of how many.
COUNTS = re.compile(r"\d+ (?:\w+ ){0,4}of (?:the )?\d")
# Percentages that are no rate of counted stoves: how sure an interval is, a size to be found; and
# the centre line of a chart, whose table has the counts of every point; the product of rates whose
# counts stand in the table above it; what a shade stands for.
LEVELS = re.compile(
    r"\d points, centre [\d.]+ %"
    r"|\d+ % (?:intervals?|limit|Wilson)|95 %, (?:\w+ )?Wilson|difference of \d+ %"
    r"|its 95 % interval|at most 5 % wrong|The stages multiplied: [^)]*\)"
    r"|(?:in brackets|interval)[^.]*\b95 %"
    r"|lowest to highest of \d+ batches before [\d.]+ % to [\d.]+ %"
    r"|^(?:under \d+ %|\d+ % to \d+ %|\d+ % and more)$",
    re.IGNORECASE,
)
# Pages whose percentages are worked examples (tests/test_docs.py), shares of a variance, readings
# in percent, shares of a tolerance, or what a checklist's own words say.
OTHERS = re.compile(
    r"/guide|/yard/checklists|/yard/limits|/trainer/drift/checks|/yard/studies|/stoves|/trainer/gauges"
)


def list_blocks(page: str) -> list[str]:
    """What is read together: a paragraph, an item, a row. Of a drawing its description."""
    page = re.sub(r"<(script|style|select)\b.*?</\1>", " ", page, flags=re.DOTALL)
    page = re.sub(r"<svg.*?</svg>", _describe, page, flags=re.DOTALL)
    page = re.sub(
        r"</?(?:p|li|h\d|section|div|figcaption|summary|details|table|thead|tbody|ul|ol)\b[^>]*>",
        "\0",
        page,
    )
    page = re.sub(r"<tr\b[^>]*>", "\0\1", page)
    words = re.sub(r"<[^>]*>", " ", page)
    return [" ".join(unescape(block).split(" ")) for block in words.split("\0")]


def _describe(drawing: re.Match[str]) -> str:
    text = re.search(r"<desc[^>]*>(.*?)</desc>", drawing[0], re.DOTALL)
    return "\0" + (text[1].replace("; ", "\0") if text else "") + "\0"


def stands_bare(block: str) -> bool:
    """A rate, and nothing that says of how many. In a row two columns of counts say it."""
    is_row, text = block.startswith("\1"), LEVELS.sub(" ", " ".join(block.split()))
    if not RATE.search(text) or COUNTS.search(text):
        return False
    whole = re.findall(r"(?<![\d.])\d+(?![\d.]| %)", text)
    return not (is_row and len(whole) >= 2)


def list_bare(page: str) -> list[str]:
    return [" ".join(block.split()) for block in list_blocks(page) if stands_bare(block)]


def test_no_page_prints_a_rate_without_its_counts(filled):
    pages = [address for address in filled.addresses if not OTHERS.match(address)]
    assert len(pages) > 25
    seen, bare = 0, {}
    for address in pages:
        page = filled.client.get(address).text
        seen += sum(bool(RATE.search(block)) for block in list_blocks(page))
        if found := list_bare(page):
            bare[address] = found
    assert seen > 200 and not bare, json.dumps(bare, indent=1)


@pytest.mark.parametrize(
    "page",
    [
        "<p>Apprentices 28 %</p>",
        "<p>Before, 60 stoves, 5.0 % with a fault</p>",
        "<tr><td>Too wide</td><td>36</td><td>75 %</td></tr>",
        "<svg><desc>Too wide: 36, running share 75 %; of 3 of 40</desc></svg>",
    ],
)
def test_a_bare_rate_is_found(page):
    assert list_bare(page)


@pytest.mark.parametrize(
    "page",
    [
        "<p>Apprentices <strong>35 of 123</strong> (28 %; 21 % to 37 %)</p>",
        "<tr><td>1 to 10</td><td>3</td><td>10</td><td>30 %</td></tr>",
        "<p>In brackets: 95 % intervals</p>",
    ],
)
def test_a_rate_with_counts_passes(page):
    assert not list_bare(page)
