"""Words that can be said in another language: English at once, the other from a catalogue,
plurals by its own rule.
"""

import pytest

from qcapp.i18n import catalogue
from qcapp.i18n.catalogue import choose_language, list_languages, load_locale
from qcapp.i18n.phrase import Phrase, phrase, phrase_n

FRENCH = r"""
msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\n"
"Plural-Forms: nplurals=2; plural=(n > 1);\n"

msgid "Back"
msgstr "Retour"

#, python-format
msgid "%(what)s: 95 %% of %(n)s"
msgstr "%(what)s : 95 %% de %(n)s"

#, python-format
msgid "%(n)s stove"
msgid_plural "%(n)s stoves"
msgstr[0] "%(n)s foyer"
msgstr[1] "%(n)s foyers"
"""


@pytest.fixture
def french(tmp_path, monkeypatch):
    (tmp_path / "fr").mkdir()
    (tmp_path / "fr" / "pages.po").write_text(FRENCH, encoding="utf-8")
    monkeypatch.setattr(catalogue, "FOLDER", tmp_path)
    load_locale.cache_clear()
    yield load_locale("fr")
    load_locale.cache_clear()


def test_words_are_english_until_said_in_another_language(french):
    said = phrase("%(what)s: 95 %% of %(n)s", what=phrase("Back"), n=3)
    assert said == "Back: 95 % of 3" and isinstance(said, str)
    assert french.translate(said) == "Retour : 95 % de 3"
    assert load_locale("en").translate(said) == "Back: 95 % of 3"


def test_a_number_chooses_the_form_by_the_rule_of_the_language(french):
    none, one, many = (phrase_n("%(n)s stove", "%(n)s stoves", n) for n in (0, 1, 2))
    assert [none, one, many] == ["0 stoves", "1 stove", "2 stoves"]
    assert [french.translate(said) for said in (none, one, many)] == [
        "0 foyer",
        "1 foyer",
        "2 foyers",
    ]


def test_what_a_catalogue_lacks_stays_english(french):
    assert (
        french.translate(phrase("Only %(n)s here", n=2)) == "Only 2 here"
        and french.translate("no such words") == "no such words"
    )
    assert french.translate("") == "" and french.translate("Back") == "Retour"


def test_a_language_is_there_when_its_folder_is(french):
    assert list_languages() == ("en", "fr")
    assert load_locale("xx").language == "en"


@pytest.mark.parametrize(
    ("wished", "chosen"),
    [
        (["fr-CI", "en"], "fr"),
        (["FR_fr"], "fr"),
        (["de", "fr"], "fr"),
        (["de"], "en"),
        ([], "en"),
        (["en-GB", "fr"], "en"),
        (["../fr", ""], "en"),
    ],
)
def test_the_first_wish_that_can_be_met_is(french, wished, chosen):
    assert choose_language(wished) == chosen


def test_a_missing_value_is_an_error_where_it_is_written():
    with pytest.raises(KeyError):
        phrase("%(n)s of %(all)s", n=1)
    assert isinstance(phrase("plain"), Phrase)
