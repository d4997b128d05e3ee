"""The words of the trade: the checklists and the phone call a thing as the list does,
in every language.
"""

import json
import re
from collections.abc import Iterator
from functools import cache

import pytest
import yaml
from babel.messages.pofile import read_po

from qcapp.i18n import catalogue
from tests.conftest import CHECKOUT
from tests.phone_catalogue import build_phone_words, list_phone_languages

# What is filled in, tags, and names with a dot or hyphen as files and codes have.
PLACE = re.compile(r"%\(\w+\)s|<code>.*?</code>|\w+\.<\w+>|<[^>]+>|\b\w+[-.]\w+(?:\.\w+)?")
LANGUAGES = [language for language in list_phone_languages() if language != "en"]
LISTS = yaml.safe_load(
    (CHECKOUT / "qcapp" / "i18n" / "trade_words.yaml").read_text(encoding="utf-8")
)
OF_CHECKLISTS, OF_PHONE = (
    LISTS["everywhere"] + LISTS["checklists"],
    LISTS["everywhere"] + LISTS["phone"],
)
WORDS = [word for words in LISTS.values() for word in words]


def list_texts(node) -> Iterator[dict[str, str]]:
    """Every text {en, ...} of a checklist, however deep."""
    if isinstance(node, dict) and "en" in node:
        yield node
    elif isinstance(node, dict | list):
        for one in node.values() if isinstance(node, dict) else node:
            yield from list_texts(one)


@cache
def read_checklist_texts() -> list[dict[str, str]]:
    return [
        text
        for path in sorted((CHECKOUT / "checklists").glob("*.yaml"))
        for text in list_texts(yaml.safe_load(path.read_text(encoding="utf-8")))
    ]


@cache
def read_phone_texts() -> list[dict[str, str]]:
    english = json.loads(
        (CHECKOUT / "static" / "phone" / "words" / "en.json").read_text(encoding="utf-8")
    )
    words = {language: build_phone_words(english, language) for language in list_phone_languages()}
    last = {
        language: {
            key: one if isinstance(one, str) else one["other"] for key, one in entries.items()
        }
        for language, entries in words.items()
    }
    return [{language: last[language][key] for language in last} for key in english]


def find_said(forms: list[str], text: str) -> list[str]:
    """Those of the forms that stand in the text as words of their own."""
    return [
        form for form in forms if re.search(rf"(?<!\w){re.escape(form)}(?!\w)", text, re.IGNORECASE)
    ]


def find_other_words(text: dict[str, str], language: str, words: list[dict]) -> list[str]:
    """What the English text names and the other one does not call by the listed word."""
    # What stands in braces is filled in and says nothing of itself.
    rest, found = re.sub(r"\{\w+\}", " ", text["en"]), []
    # The longest first: what door opening has taken, door does not see again.
    for term, word in sorted(
        ((term, one) for one in words for term in one["en"]), key=lambda pair: -len(pair[0])
    ):
        if not find_said([term], rest):
            continue
        rest = re.sub(rf"(?<!\w){re.escape(term)}(?!\w)", " ", rest, flags=re.IGNORECASE)
        if "untested" not in word and not find_said(word[language], text[language]):
            found.append(f"{term} is not {word[language][0]}: {text['en']} / {text[language]}")
    return found


def test_each_word_is_in_every_language_and_explained_once():
    for word in WORDS:
        assert {"en", "means", *LANGUAGES} <= set(word) and all(
            word[language] and all(word[language]) for language in ("en", *LANGUAGES)
        ), word
    terms = [term for word in WORDS for term in word["en"]]
    assert len(terms) == len(set(terms))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_text_of_the_shipped_checklists_is_said(language):
    texts = read_checklist_texts()
    assert len(texts) > 450 and [text for text in texts if not text.get(language, "").strip()] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_checklists_use_the_listed_words(language):
    assert [
        line
        for text in read_checklist_texts()
        for line in find_other_words(text, language, OF_CHECKLISTS)
    ] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_phone_uses_the_listed_words(language):
    assert [
        line for text in read_phone_texts() for line in find_other_words(text, language, OF_PHONE)
    ] == []


@cache
def read_page_texts(language: str) -> list[dict[str, str]]:
    """What pages, reports and papers say: each form of each text, without what is filled in and
    without file names and codes.
    """
    texts = []
    for name in ("pages", "figures"):
        with (catalogue.FOLDER / language / f"{name}.po").open("rb") as file:
            found = read_po(file, locale=language)
        for message in found:
            if message.id:
                one_of = [message.id, message.string]
                english, said = ([one] if isinstance(one, str) else list(one) for one in one_of)
                texts += [
                    {"en": PLACE.sub(" ", one), language: PLACE.sub(" ", other)}
                    for one, other in ((english[0], said[0]), (english[-1], said[-1]))
                ]
    return texts


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_pages_use_the_words_listed_for_everywhere(language):
    texts = read_page_texts(language)
    assert len(texts) > 3000
    assert [
        line for text in texts for line in find_other_words(text, language, LISTS["everywhere"])
    ] == []


def test_another_word_for_a_listed_thing_is_found():
    text = {"en": "Pot rests above the rim", "fr": "Supports de marmite au-dessus du bord"}
    assert find_other_words(text, "fr", OF_CHECKLISTS) == [
        "rim is not rebord: Pot rests above the rim / Supports de marmite au-dessus du bord"
    ]
    assert find_other_words({**text, "fr": "Supports au-dessus du rebord"}, "fr", OF_CHECKLISTS)[
        0
    ].startswith("pot rests is not support de marmite")


@pytest.mark.parametrize(
    "word", [word for word in WORDS if "untested" not in word], ids=lambda word: word["en"][0]
)
def test_each_listed_word_is_used_somewhere(word):
    """A word that no text needs would be confirmed by an artisan for nothing."""
    said = [text["en"] for text in read_checklist_texts() + read_phone_texts()]
    assert any(find_said(word["en"], text) for text in said)


def test_the_list_is_part_of_the_program():
    assert (catalogue.FOLDER.parent / "trade_words.yaml").is_file()


@pytest.mark.parametrize("language", LANGUAGES)
def test_questions_stay_short_enough_for_a_small_screen(language):
    checks = [
        check
        for path in sorted((CHECKOUT / "checklists").glob("*.yaml"))
        for check in yaml.safe_load(path.read_text(encoding="utf-8"))["checks"]
    ]
    assert [check["id"] for check in checks if len(check["ask"][language]) > 50] == []
    assert [check["id"] for check in checks if len(check["how"][language]) > 150] == []
