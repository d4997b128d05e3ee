"""No page of the demo has a slip that a reader of its language notices at once."""

import re

import pytest

from tests.i18n.slips import SLIPS, find_slips, read_words

ALL = [(language, slip) for language, slips in SLIPS.items() for slip in slips]


@pytest.mark.parametrize(("language", "slip"), ALL, ids=lambda one: getattr(one, "name", one))
def test_each_slip_is_found_and_what_is_right_is_not(language, slip):
    assert slip.wrong and all(any(slip.find(text)) for text in slip.wrong)
    assert not [text for text in slip.right if any(slip.find(text))]


@pytest.mark.slow
@pytest.mark.parametrize("language", SLIPS)
def test_no_page_has_a_slip(filled, language):
    found: dict[str, str] = {}
    for address in filled.addresses:
        answer = filled.client.get(address, headers={"Accept-Language": language})
        for slip in find_slips(read_words(answer.text), language):
            found.setdefault(re.sub(r"\d+", "0", slip), f"{slip}   {address}")
    assert not found, "\n".join(found.values())
