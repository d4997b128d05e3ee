"""Figures, days, lists and a checklist's texts: English as they stand,
said by each language's own habits.
"""

import copy
import json
import pickle

import pytest

from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.localized_text import Day, Figure, join, text_of, translate_phrase
from qcapp.i18n.phrase import phrase

FRENCH, ENGLISH = load_locale("fr"), load_locale("en")


@pytest.mark.parametrize(
    ("made", "english", "french"),
    [
        (Figure("12.50"), "12.50", "12,50"),
        (Figure("−0.3"), "−0.3", "−0,3"),
        (Figure("7"), "7", "7"),
        (Day("2026-11-05"), "2026-11-05", "05/11/2026"),
        (Day("2026-11-05T10:27:28.217Z"), "2026-11-05 10:27:28 UTC", "05/11/2026 10:27:28 UTC"),
        (join(" / ", [Figure("1.5"), "1.5"]), "1.5 / 1.5", "1,5 / 1.5"),
        (text_of({"en": "Body", "fr": "Corps"}), "Body", "Corps"),
        (text_of({"en": "Body"}), "Body", "Body"),
        (phrase("limit %(value)s", value=Figure("0.5")), "limit 0.5", "limite 0,5"),
    ],
)
def test_english_as_it_stands_and_said_elsewhere(made, english, french):
    assert (
        made == english and ENGLISH.translate(made) == english and FRENCH.translate(made) == french
    )


def test_a_name_that_is_a_word_of_the_catalogue_is_never_translated():
    assert (
        translate_phrase(FRENCH, "Yard") == "Yard"
        and translate_phrase(FRENCH, phrase("Yard")) == "Atelier"
    )
    assert FRENCH.translate(join(", ", ["Yard", phrase("Yard")])) == "Yard, Atelier"


def test_a_percent_sign_in_a_text_is_only_a_sign():
    assert FRENCH.translate(text_of({"en": "95 % s"})) == "95 % s" and FRENCH.translate(
        Day("2026-11-05")
    ).endswith("2026")


def test_a_phrase_is_copied_and_kept_as_its_english():
    made = phrase("limit %(value)s", value=Figure("0.5"))
    assert (
        copy.deepcopy(made) == made
        and pickle.loads(pickle.dumps(made)) == "limit 0.5"
        and json.dumps([made]) == '["limit 0.5"]'
    )
