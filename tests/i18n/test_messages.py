"""Sentences as data: stored as code and params, worded for the reader, known in every language."""

import ast
import json
import re

import pytest

from qcapp.access.audit_messages import ACTORS, AUDIT_MESSAGES
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.localized_text import Figure
from qcapp.i18n.messages import Message, MessageTable
from qcapp.i18n.phrase import phrase
from qcapp.sync import photo_refusals, quarantine_reasons
from tests.builders import ROOT
from tests.catalogues import extract, read_catalogue
from tests.messages import SENTENCES, TABLES
from tests.routes import PROGRAMME_RULES, RULES

LANGUAGES = ("fr", "pt")
TABLE = MessageTable()
WAIT = TABLE.sentence_n("wait", "%(n)s stove waits.", "%(n)s stoves wait.")
FOUND = TABLE.sentence(
    "found",
    "%(severity)s: %(names)s (p %(p)s)",
    severity={"major": phrase("major")},
    p=Figure,
)
TWICE = TABLE.sentence("twice", "%(first)s And: %(second)s")


def test_what_is_stored_is_the_code_and_plain_params():
    made = FOUND(severity="major", names=("A77", "A78"), p="0.012")
    assert made.to_json() == {
        "code": "found",
        "params": {"severity": "major", "names": ["A77", "A78"], "p": "0.012"},
    }
    assert made.to_text() == (
        '{"code":"found","params":{"names":["A77","A78"],"p":"0.012","severity":"major"}}'
    )


@pytest.mark.parametrize(
    "made",
    [
        WAIT(n=3),
        FOUND(severity="major", names=["é", "\x00"], p="0.5"),
        TWICE(first=WAIT(n=1), second=[WAIT(n=2), "x"]),
        Message("bare"),
    ],
)
def test_what_is_stored_comes_back_as_it_was(made):
    assert Message.from_text(made.to_text()) == made
    assert Message.from_json(json.loads(json.dumps(made.to_json()))) == made
    assert TABLE.word(Message.from_text(made.to_text())) == TABLE.word(made)


def test_words_come_from_the_table_and_from_the_readers_language():
    assert TABLE.word(WAIT(n=1)) == "1 stove waits." and TABLE.word(WAIT(n=3)) == "3 stoves wait."
    made = TABLE.word(FOUND(severity="major", names=["A77", "A78"], p="0.5"))
    assert made == "major: A77, A78 (p 0.5)"
    assert load_locale("fr").translate(made).endswith("A77, A78 (p 0,5)")
    nested = TWICE(first=WAIT(n=1), second=[WAIT(n=2), "typed %(n)s"])
    assert TABLE.word(nested) == "1 stove waits. And: 2 stoves wait., typed %(n)s"


@pytest.mark.parametrize("language", ["en", *LANGUAGES])
@pytest.mark.parametrize(
    ("stored", "shown"),
    [
        ({"code": "later", "params": {"n": 3, "of": ["a"]}}, 'later: n=3, of=["a"]'),
        ({"code": "later", "params": {}}, "later"),
        # Codes that are known, written with other params.
        ({"code": "wait", "params": {}}, "wait"),
        ({"code": "wait", "params": {"n": "many"}}, 'wait: n="many"'),
        ({"code": "wait", "params": {"n": None}}, "wait: n=null"),
        ({"code": "found", "params": {"p": [None]}}, "found: p=[null]"),
        ({"code": "found", "params": {"severity": ["x"], "names": {}, "p": 5}}, None),
        # No message at all.
        ("unknown batch: B9", 'unreadable: stored="unknown batch: B9"'),
        ({"code": 5, "params": {}}, None),
        (None, "unreadable: stored=null"),
    ],
)
def test_what_is_not_known_is_shown_as_it_is_stored(language, stored, shown):
    made = TABLE.word_json(stored)
    said = load_locale(language).translate(made)
    assert said and (shown is None or said == shown)
    assert Message.from_text("no json").code == "unreadable"


@pytest.mark.parametrize("value", [phrase("major"), 0.5, {"a": 1}, object()])
def test_words_of_one_language_and_fractions_are_never_stored(value):
    with pytest.raises(TypeError):
        WAIT(n=value)
    with pytest.raises(TypeError, match="wait needs n"):
        WAIT(number=3)


def test_a_code_is_given_once():
    with pytest.raises(ValueError, match="two sentences"):
        MessageTable(TABLE).sentence("wait", "again")


def test_more_params_than_the_words_need_may_be_stored():
    assert TABLE.word(WAIT(n=3, of=9)) == "3 stoves wait."


# --- the program's own tables


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_code_has_words_in_every_language(language):
    assert len(SENTENCES) > 90
    kept = {}
    for domain in ("pages", "figures"):
        kept |= {message.id: message for message in read_catalogue(language, domain)}
    for sentence in SENTENCES:
        message = kept[(sentence.one, sentence.many) if sentence.many else sentence.one]
        strings = message.string if sentence.many else (message.string,)
        assert all(strings) and not message.fuzzy, sentence.code
    for words in (*AUDIT_MESSAGES.values(), *ACTORS.values()):
        assert kept[words].string and not kept[words].fuzzy, words


@pytest.mark.parametrize("table", TABLES.values(), ids=TABLES)
def test_words_of_coded_params_are_phrases_of_the_catalogue(table):
    known = {message.id for domain in ("pages", "figures") for message in extract(domain)}
    for sentence in table:
        for wording in sentence.wording.values():
            assert callable(wording) or {one.one for one in wording.values()} <= known


@pytest.mark.parametrize("language", ["en", *LANGUAGES])
def test_the_phone_has_words_for_every_reason_that_it_is_told(language):
    words = json.loads(
        (ROOT / "static" / "phone" / "words" / f"{language}.json").read_text(encoding="utf-8")
    )
    told = {key.removeprefix("reason."): text for key, text in words.items() if "reason." in key}
    told = {code: text for code, text in told.items() if f"reason.{code}" in words}
    sentences = [*quarantine_reasons.REASONS, *photo_refusals.REFUSALS]
    assert {sentence.code for sentence in sentences} | {"refused"} == told.keys()
    for sentence in sentences:
        assert set(re.findall(r"\{(\w+)\}", told[sentence.code])) <= sentence.places, sentence.code


def list_noted_actions() -> set[str]:
    """What the code gives as action to note(), where it is a text."""
    found = set()
    for path in (ROOT / "qcapp").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "note":
                given = {one.arg: one.value for one in node.keywords}["action"]
                found |= {part.value for part in ast.walk(given) if isinstance(part, ast.Constant)}
    return found


def test_every_line_of_the_trail_that_can_be_written_has_words_and_no_other_has():
    declared = {rule.audit_message for rule in (*RULES, *PROGRAMME_RULES)} - {""}
    assert len(declared) > 30
    # The middleware's own, of a route without one.
    declared.add("other_change")
    assert declared | list_noted_actions() == AUDIT_MESSAGES.keys()
