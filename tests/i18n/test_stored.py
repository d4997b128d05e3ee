"""Stored English is recognised only where it is rebuilt to the letter;
nothing a person typed is taken for ours.
"""

import pytest

from qcapp.i18n.catalogue import MAX_LENGTH, load_locale, load_recogniser
from qcapp.i18n.localized_text import Figure
from qcapp.i18n.phrase import phrase, phrase_n
from qcapp.i18n.stored import Recogniser

PATTERNS = [
    "Nothing to do",
    ("%(n)s stove waits.", "%(n)s stoves wait."),
    "%(what)s: %(todo)s",
    "by %(by)s: %(reason)s",
    "%(failed)s of %(of)s",
    "Beside it: %(what)s (p %(p)s).",
    "%(note)s The buyer wrote: %(words)s",
    "%(aql)s %%",
    "%(what)s to the very end of the yard",
    "%(what)s of the yard",
]


def find(text: str):
    return Recogniser(PATTERNS).recognise(text)


def test_a_sentence_comes_back_with_what_was_filled_in():
    found = find("3 stoves wait.")
    assert (found, found.n, dict(found.params)) == ("3 stoves wait.", 3, {"n": 3})
    assert find("1 stove waits.").n == 1 and find("Nothing to do").params == {}
    nested = find("Beside it: 3 stoves wait. (p 0.012).")
    assert nested.params["what"].n == 3 and isinstance(nested.params["p"], Figure)
    assert isinstance(find("2.5 %").params["aql"], Figure)


@pytest.mark.parametrize(
    "text",
    [
        "3 stove waits.",
        "1 stoves wait.",
        "03 stoves wait.",
        "some stoves wait.",
        "Nothing to do.",
        "nothing to do",
        "clean: wipe it",
        "a lid of a pot",
        "",
        "the best %",
        "wait",
    ],
)
def test_anything_else_is_not_recognised(text):
    assert find(text) is None


def test_the_most_exact_pattern_wins_and_a_typed_text_is_not_looked_into():
    assert (
        find("the gate to the very end of the yard").one == "%(what)s to the very end of the yard"
    )
    assert find("by L01: Nothing to do").params == {"by": "L01", "reason": "Nothing to do"}
    said = find(
        "Beside it: 2 stoves wait. (p 0.500). The buyer wrote: Nothing to do. The buyer wrote: 3"
        " of 4"
    )
    assert (
        said.params["words"] == "Nothing to do. The buyer wrote: 3 of 4"
        and said.params["note"].params["what"].n == 2
    )


@pytest.mark.parametrize("language", ["fr", "pt"])
def test_a_phrase_recognised_is_said_as_the_phrase_it_was(language):
    words, recogniser = load_locale(language), load_recogniser(language)
    for made in (
        phrase_n("%(n)s stove waits for rework.", "%(n)s stoves wait for rework.", 4),
        phrase(
            "Beside it: %(what)s. %(judged)s (exact p %(p)s).",
            what=phrase("offered stoves that the yard released by concession"),
            judged=phrase("The difference may be chance"),
            p=Figure("0.250"),
        ),
    ):
        assert words.translate(recogniser.recognise(str(made))) == words.translate(made) != made


def test_kept_text_of_a_page_is_found_in_both_catalogues_and_long_text_is_left_alone():
    locale = load_locale("fr")
    assert locale.recognise("unknown batch: B9") == "lot inconnu\u00a0: B9"
    assert (
        locale.recognise("nine in a row on one side of the centre")
        != "nine in a row on one side of the centre"
    )
    assert load_recogniser("fr").recognise("unknown batch: B9") is None, (
        "a summary is read by what reports say alone"
    )
    long = f"unknown batch: {'9' * MAX_LENGTH}"
    assert locale.recognise(long) == long


def test_without_a_catalogue_nothing_is_recognised():
    assert load_recogniser("xx").recognise("Nothing to do") is None
