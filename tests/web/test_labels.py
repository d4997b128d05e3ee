"""What a stage inspects is called by its own word, one and many."""

import pytest

from qcapp.inspection.articles import count_articles, count_faulty
from qcapp.web.layout.labels import STAGES

WORDS = {
    "finished": ("stove", "stoves"),
    "cladding": ("shell", "shells"),
    "blanks": ("set of blanks", "sets of blanks"),
    "bedding": ("stove", "stoves"),
    "green-liner": ("liner", "liners"),
    "fired-liner": ("liner", "liners"),
    "firing": ("kiln load", "kiln loads"),
    "of a yard's own": ("piece", "pieces"),
}


def test_every_stage_with_a_name_has_a_word():
    assert set(STAGES) <= set(WORDS)


@pytest.mark.parametrize("stage", WORDS)
@pytest.mark.parametrize("count", [count_articles, count_faulty])
def test_pieces_are_counted_by_the_stage_s_own_word(count, stage):
    one, many = WORDS[stage]
    assert count(1, stage).startswith("1 ") and count(1, stage).endswith(one)
    assert count(2, stage).startswith("2 ") and count(2, stage).endswith(many)
