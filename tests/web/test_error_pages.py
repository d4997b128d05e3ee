"""Pages that say what did not work: whole sentences in each language, names as they are written."""

import html
import re

import pytest

from qcapp.i18n.catalogue import list_languages
from qcapp.i18n.phrase import phrase
from qcapp.web.layout.template_filters import as_sentence
from tests.builders import open_yard
from tests.i18n.filled import WRONG

ADDRESSES = (
    *WRONG,
    "/yard/checklists/none",
    "/yard/people/none",
    "/trainer/artisans/none",
)


@pytest.fixture(scope="module")
def yard():
    return open_yard()


@pytest.mark.parametrize("language", list_languages())
@pytest.mark.parametrize("address", ADDRESSES)
def test_an_error_page_speaks_in_sentences(yard, address, language):
    answer = yard.client.get(address, headers={"Accept-Language": language})
    assert answer.status_code >= 400
    what, todo = re.search(r'<p class="note fail">(.*?)</p>\s*<p>(.*?)</p>', answer.text).groups()
    for said in map(html.unescape, (re.sub(r" <span.*", "", what), todo)):
        # What was typed stands as it was, in quotation marks.
        assert said[0].isupper() or said[0] in "'“«", said
        assert re.search(r"[^.!?][.!?]$", said), said


def test_a_sentence_keeps_its_names():
    assert as_sentence(phrase("choose a YAML file")) == "Choose a YAML file."
    assert as_sentence("Done!") == "Done!" and as_sentence("") == ""
