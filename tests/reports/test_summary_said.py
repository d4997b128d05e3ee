"""A summary that was signed in English is shown in another language: every sentence of ours,
none of anybody else's.
"""

import json
import re

import pytest

from qcapp.checklist.model import Checklist
from qcapp.i18n.catalogue import load_locale, load_recogniser
from qcapp.i18n.localized_text import Figure, join
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.reports import decision, summary_changes, summary_statements
from qcapp.reports.summary_translation import (
    OWN_LISTS,
    OWN_SENTENCES,
    collect_texts,
    translate_document,
)
from tests.builders import build_small_checklist
from tests.catalogues import extract
from tests.documents.samples import load_sample
from tests.reports.test_demo_summaries import demo  # noqa: F401  (a fixture)

pytestmark = pytest.mark.slow

LANGUAGES = ("fr", "pt")
SOURCES = {
    f"qcapp/reports/{name}.py"
    for name in ("decision", "summary_words", "summary_changes", "summary_measures")
}
# What stands in a sentence's places: numbers unless named here.
FILLED = {
    "faults": decision.FAULTS_AT_FIRST_PASS["major"],
    "serials": "H2-003, H2-005",
    "shown": "H2-003",
    "stoves": phrase("%(n)s stove", n=1),
    "offer": phrase("%(n)s is offered", n=1),
    "what": phrase("stoves of the yard's sample with a fault at first pass"),
    "judged": phrase("The difference may be chance"),
    "p": Figure("0.012"),
    "note": phrase("The difference may be chance"),
    "words": "all dented, 3 of 4",
    "id": "finished-stove",
    "by": "L01",
    "reason": "agreed by telephone: 2 of 3",
    "severity": phrase("major"),
    "aql": Figure("2.5"),
    "stage": phrase("tightened"),
    "seed": "G4/2026-11-18",
    "final": "'accept'",
    "computed": "'reject'",
    "aqls": join(
        ", ",
        [
            phrase("%(severity)s %(aql)s %%", severity=phrase("major"), aql=Figure("2.5")),
            phrase("%(severity)s %(aql)s %%", severity=phrase("minor"), aql=Figure("4.0")),
        ],
    ),
}


def list_phrases():
    """Every pattern of the summary's own modules, filled."""
    for message in extract("figures"):
        if not message.id or not SOURCES & {place for place, _line in message.locations}:
            continue
        one, many = message.id if isinstance(message.id, tuple) else (message.id, None)
        for n in (1, 17) if many else (1,):
            names = re.findall(r"%\((\w+)\)s", one)
            yield Phrase(
                one, {name: n if name == "n" else FILLED.get(name, 120) for name in names}, many, n
            )


def list_server_events(value, key=""):
    """(key, text) of every text that the program wrote as a sentence."""
    if isinstance(value, dict):
        for inner, part in value.items():
            yield from list_server_events(part, inner)
    elif isinstance(value, list):
        for part in value:
            yield from list_server_events(part, key)
    elif isinstance(value, str) and key in OWN_SENTENCES | OWN_LISTS:
        yield key, value


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_that_a_summary_can_hold_is_recognised_and_said_again(language):
    words, recogniser = load_locale(language), load_recogniser(language)
    made = list(list_phrases())
    assert len(made) > 90
    for one in made:
        found = recogniser.recognise(str(one))
        assert found == one and isinstance(found, Phrase), one
        assert words.translate(found) == words.translate(one), one


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_of_the_demos_summaries_is_said_and_nothing_else_changes(
    demo,  # noqa: F811  (the fixture, asked for)
    language,
):
    recogniser, seen = load_recogniser(language), set()
    for document in demo[1].values():
        stored = json.loads(json.dumps(document))
        shown = translate_document(stored, load_locale(language))
        for (key, text), (_key, said) in zip(
            list_server_events(stored), list_server_events(shown), strict=True
        ):
            assert recogniser.recognise(text) == text, (key, text)
            assert said != text, (key, text)
            seen.add(key)
        assert json.loads(json.dumps(document)) == stored, "the signed document is left alone"
        for key in ("counts", "plan", "number", "rests_on", "batch", "issued_by", "promise"):
            assert (
                {**shown[key], "sentence": ""} == {**stored[key], "sentence": ""}
                if key == "promise"
                else shown[key] == stored[key]
            )
    assert {"sentence", "reasons", "cautions"} <= seen


def test_what_a_person_typed_stays_even_where_it_reads_like_ours():
    document = load_sample("bad")
    ours = "No stove of this batch has been inspected."
    document["concessions"][0]["reason"] = document["not_released"][0]["reason"] = document[
        "batch"
    ]["title"] = ours
    document["decision"]["overruled"] = {
        "by": "accept",
        "at": "2026-11-25T10:00:00.000Z",
        "reason": ours,
    }
    document["concessions"][1]["reason"] = "no reason recorded"
    document["changes"] = [{"what": "overruled", "before": "no", "after": f"by accept: {ours}"}]
    shown = translate_document(document, load_locale("fr"))
    assert (
        shown["concessions"][0]["reason"]
        == shown["not_released"][0]["reason"]
        == shown["batch"]["title"]
        == ours
    )
    assert (
        shown["decision"]["overruled"]["reason"] == ours
        and shown["decision"]["overruled"]["by"] == "accept"
    )
    assert shown["concessions"][1]["reason"] == "aucune raison notée"
    assert shown["changes"] == [
        {"what": "décision modifiée", "before": "non", "after": f"par accept\u00a0: {ours}"}
    ]


def test_english_is_the_document_itself_and_a_checklists_texts_come_from_it():
    document = load_sample("good")
    assert translate_document(document, load_locale("en")) == document
    ask = document["measures"][0]["ask"]
    compiled = build_small_checklist().compiled()
    compiled["checks"][0]["ask"] = {"en": ask, "pt": "Largura da abertura"}
    texts = collect_texts([Checklist.from_compiled(compiled)], "pt")
    assert texts == {ask: "Largura da abertura"}
    shown = translate_document(document, load_locale("pt"), texts)
    assert (
        shown["measures"][0]["ask"] == "Largura da abertura"
        and document["measures"][0]["ask"] == ask
    )


@pytest.mark.parametrize(
    ("made", "french", "portuguese"),
    [
        (
            decision._describe_result(
                decision.SeverityResult("critical", 20, 1, None, 0, 1, False)
            ),
            (
                "Défauts critiques au premier passage\u00a0: 1 sur 20 foyers\u00a0; aucun n’est"
                " accepté."
            ),
            "Defeitos críticos na primeira passagem: 1 de 20 fogões; nenhum é aceite.",
        ),
        (
            next(decision._say_offer(1, 1, 0, 0)),
            "Contrôle complet de 1 foyer\u00a0; 1 est présenté, dont 1 sans défaut ouvert.",
            "Inspeção completa de 1 fogão; 1 é apresentado, dos quais 1 sem defeito aberto.",
        ),
        (
            summary_statements._judge(0.1, 0.2),
            "L’acheteur en a trouvé plus, au-delà de ce que le hasard explique",
            "O comprador achou mais, além do que o acaso explica",
        ),
        (
            summary_changes._tell_severity(
                {"severities": [{"severity": "major", "failed": 3, "of": 60}]}, "major"
            ),
            "3 sur 60",
            "3 de 60",
        ),
    ],
)
def test_sentences_read_well(made, french, portuguese):
    assert (
        load_locale("fr").translate(made) == french
        and load_locale("pt").translate(made) == portuguese
    )
