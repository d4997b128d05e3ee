"""Days, serials and codes of batches keep to one line, whatever template wrote them."""

import pytest

from qcapp.web.layout.whole_codes import keep_codes_whole


@pytest.mark.parametrize("code", ["2026-11-28", "28/11/2026", "B5-063", "K-2026-03", "É-7"])
def test_a_code_is_marked_in_text(code):
    marked = f'<span class="whole">{code}</span>'
    assert keep_codes_whole(f"<p>Since {code}, all.</p>") == f"<p>Since {marked}, all.</p>"
    assert keep_codes_whole(f"<a>{code}</a>{code}") == f"<a>{marked}</a>{marked}"


@pytest.mark.parametrize(
    "html",
    [
        '<a href="/stoves/finished/B5-063" title="B5-063, 2026-11-28">open</a>',
        "<svg><title>B5-063</title><text>B5-063</text></svg>",
        "<title>B5-063 – yard</title>",
        "<select><option>B5-063</option></select><textarea>B5-063</textarea>",
        "<p>/yards/yard-1/B5-063.json, C:\\\\yard-1\\\\B5</p>",
        "<p>first-pass work, and/or 3/4; an id: 01a0c77c-3080-7282-ac45-7a46b0895fcd</p>",
    ],
)
def test_what_is_no_code_in_text_stays(html):
    assert keep_codes_whole(html) == html
