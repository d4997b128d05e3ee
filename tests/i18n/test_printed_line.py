"""Every page says on paper whose it is, what it counts, and when it was printed."""

import re
from html import unescape

from tests.i18n.filled import FilledYard

PRINTED = re.compile(r'data-printed="([^"]*)"')
MINUTE = re.compile(r"printed 20\d\d-\d\d-\d\d \d\d:\d\d UTC$")


def read_printed(text: str) -> list[str]:
    found = PRINTED.search(text)
    return unescape(found[1]).split(" · ") if found else []


def test_every_page_carries_yard_page_period_and_date_of_printing(filled: FilledYard):
    for address in filled.addresses:
        text = filled.client.get(address, headers={"Accept-Language": "en"}).text
        parts = read_printed(text)
        assert len(parts) >= 4, (address, parts)
        yard, title, period, printed = parts[0], parts[1], parts[-2], parts[-1]
        assert yard and title and period.strip() == period and period, address
        assert f"<title>{title} – {yard}</title>" in unescape(text), address
        assert MINUTE.match(printed), (address, printed)
        assert "<" not in "".join(parts), address


def test_what_is_filtered_stands_on_the_paper(filled: FilledYard):
    for address, wanted in (
        ("/trainer?batch=B5", "Filtered: batch B5"),
        ("/trainer/faults?since=2026-01-01&size=medium", "Filtered: medium, from 2026-01-01"),
        ("/trainer?days=all", "Filtered: all days"),
        ("/yard/costs?batch=B5", "batch B5"),
        ("/yard/costs", "the last six months"),
        ("/batches/B5", "all days, no filter"),
    ):
        text = filled.client.get(address, headers={"Accept-Language": "en"}).text
        assert read_printed(text)[-2] == wanted, address
