"""A summary is signed as data: worded in any language, typed texts as they are."""

import json

import pytest

from qcapp.access.audit_messages import AUDIT_MESSAGES
from qcapp.checklist.model import Checklist
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.messages import Message, is_message
from qcapp.i18n.phrase import Phrase
from qcapp.reports import decision_reasons as why
from qcapp.reports import summary_messages as messages
from qcapp.reports.summary_wording import (
    collect_texts,
    list_sentences,
    say_intervals,
    word_summary,
)
from qcapp.store.log import list_by_kind, list_quarantined
from qcapp.sync.quarantine_reasons import REASONS
from tests.builders import build_small_checklist
from tests.catalogues import read_catalogue
from tests.documents.samples import load_sample
from tests.reports.test_demo_summaries import demo  # noqa: F401  (a fixture)
from tests.summary_schema import PATH, write_block

LANGUAGES = ("fr", "pt")


def list_messages(value):
    """Every sentence in a document, those inside others too."""
    if is_message(value):
        yield value
    children = value.values() if isinstance(value, dict) else value
    if isinstance(value, dict | list):
        for child in children:
            yield from list_messages(child)


def list_phrases(value):
    if isinstance(value, Phrase):
        yield value
    children = value.values() if isinstance(value, dict) else value
    if isinstance(value, dict | list):
        for child in children:
            yield from list_phrases(child)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_of_the_demos_summaries_is_known_and_worded_and_nothing_else_changes(
    demo,  # noqa: F811  (the fixture, asked for)
    language,
):
    locale, seen = load_locale(language), set()
    for document in demo[1].values():
        before = json.dumps(document)
        shown = word_summary(document)
        assert json.dumps(document) == before, "the signed document is left alone"
        stored = list(list_messages(document))
        assert all(one["code"] in messages.MESSAGES for one in stored)
        seen |= {one["code"] for one in stored}
        for words in list_phrases(shown):
            assert locale.translate(words) != words, words
        for key in ("counts", "plan", "number", "rests_on", "batch", "issued_by", "messages"):
            assert shown[key] == document[key]
    assert {"promise_every", "not_inspected", "caution_pay", "index_too_few"} & seen


def test_every_reason_that_the_demo_has_stored_is_known(demo):  # noqa: F811  (the fixture)
    with demo[0].app.state.store.reading() as connection:
        stored = [Message.from_text(row.reason) for row in list_quarantined(connection)]
        overruled = list_by_kind(connection, "decision")
        trail = list_by_kind(connection, "trail")
    assert all(one.code in REASONS for one in stored)
    assert trail and all(event["body"]["action"] in AUDIT_MESSAGES for event in trail)
    for event in overruled:
        assert all(reason["code"] in why.REASONS for reason in event["body"]["reasons"])


def test_what_a_person_typed_stays_even_where_it_reads_like_ours():
    document = load_sample("bad")
    ours = "No stove of this batch has been inspected."
    document["concessions"][0]["reason"] = document["not_released"][0]["reason"] = ours
    document["batch"]["title"] = document["recheck"]["wrote"] = ours
    document["decision"]["overruled"] = {
        "by": "accept",
        "at": "2026-11-25T10:00:00.000Z",
        "reason": ours,
    }
    document["concessions"][1]["reason"] = None
    document["causes"][0]["fault"] = None
    document["changes"] = [
        {
            "what": messages.CHANGED_OVERRULING().to_json(),
            "before": messages.NOT_OVERRULED().to_json(),
            "after": messages.OVERRULED_BY(by="accept", reason=ours).to_json(),
        }
    ]
    shown, translate = word_summary(document), load_locale("fr").translate
    assert shown["concessions"][0]["reason"] == shown["not_released"][0]["reason"] == ours
    assert shown["batch"]["title"] == ours and not isinstance(shown["batch"]["title"], Phrase)
    assert shown["decision"]["overruled"] == document["decision"]["overruled"]
    assert translate(shown["concessions"][1]["reason"]) == "aucune raison notée"
    assert translate(shown["causes"][0]["fault"]) != "not named"
    assert translate(shown["recheck"]["note"]).endswith(ours)
    assert [translate(words) for words in shown["changes"][0].values()] == [
        "décision modifiée",
        "non",
        f"par accept\u00a0: {ours}",
    ]


def test_a_sentence_of_a_later_catalogue_is_shown_as_it_is_stored():
    document = load_sample("good")
    document["decision"]["reasons"].append({"code": "painted_wet", "params": {"n": 3}})
    document["promise"]["sentence"] = {"code": "promise_every", "params": {"stoves": 3}}
    assert word_summary(document)["decision"]["reasons"][-1] == "painted_wet: n=3"
    assert "promise_every: stoves=3" in list_sentences(document)


def test_texts_of_the_checklist_come_in_the_readers_language():
    document = load_sample("good")
    ask = document["measures"][0]["ask"]
    compiled = build_small_checklist().compiled()
    compiled["checks"][0]["ask"] = {"en": ask, "pt": "Largura da abertura"}
    texts = collect_texts([Checklist.from_compiled(compiled)], "pt")
    assert texts == {ask: "Largura da abertura"}
    assert word_summary(document, texts)["measures"][0]["ask"] == "Largura da abertura"
    assert word_summary(document)["measures"][0]["ask"] == ask == document["measures"][0]["ask"]


def test_published_schema_lists_every_sentence_with_its_english():
    assert write_block() in PATH.read_text(encoding="utf-8"), "run python3 -m tests.summary_schema"


# What each code has in catalogue 2. A line that changes is a new catalogue: summaries that are
# signed hold the old one. A line more is none: no signed summary has its code.
PARAMS = {
    "none_inspected": "",
    "records_quarantined": "n",
    "and_more": "more shown",
    "faults_none_accepted": "failed n severity",
    "faults_against_limits": "ac failed n re severity",
    "sample_not_whole": "n serials",
    "critical_not_looked_at": "n",
    "no_critical_checks": "",
    "faulty_waits": "n",
    "drawn_again": "drawn",
    "inspected_before_drawn": "n",
    "released_with_critical": "n",
    "all_scrapped": "",
    "all_inspected": "released sound stoves",
    "released_by_concession": "n",
    "some_scrapped": "n",
    "not_inspected": "lot n",
    "wait_for_rework": "n",
    "wait_for_decision": "n",
    "released_unchecked": "n serials",
    "open_major": "n",
    "open_minor": "n",
    "promise_sample_not_whole": "drawn looked_at",
    "promise_sample": "drawn found left lot others",
    "promise_every_not_whole": "inspected left lot",
    "promise_every": "lot",
    "recheck_beside": "judged p what",
    "index_no_limit": "",
    "index_counted": "",
    "index_too_few": "needed values",
    "index_all_the_same": "",
    "index_no_bell_curve": "",
    "index_one_limit": "",
    "changed_decision": "",
    "changed_overruling": "",
    "changed_order": "",
    "changed_signatory": "",
    "changed_plan": "",
    "changed_checklist": "",
    "changed_closing": "",
    "changed_recheck": "",
    "changed_details": "",
    "changed_offered": "",
    "changed_inspected": "",
    "changed_not_inspected": "",
    "changed_good": "",
    "changed_faulty": "",
    "changed_released_at_once": "",
    "changed_released_later": "",
    "changed_rework": "",
    "changed_concession": "",
    "changed_scrap": "",
    "changed_hold": "",
    "changed_critical": "",
    "changed_major": "",
    "changed_minor": "",
    "is_accept": "",
    "is_reject": "",
    "is_not_ready": "",
    "is_overruled_by": "by reason",
    "is_not_overruled": "",
    "is_order": "contract number ordered",
    "is_signatory": "name role",
    "is_not_given": "",
    "is_plan_every": "lot",
    "is_plan_sample": "aqls drawn lot regime seed",
    "is_plan_aql": "aql severity",
    "is_revision": "id revision",
    "is_closed_at": "moment",
    "is_still_open": "",
    "is_failed_of": "failed of",
    "is_recheck_failed": "failed of",
    "is_no_recheck": "",
    "is_as_issued": "",
    "is_see_below": "",
    "caution_no_certificate": "",
    "caution_monoxide": "",
    "caution_sickness": "",
    "caution_place": "",
    "caution_standard": "",
    "caution_pay": "",
}


def test_codes_and_params_are_those_of_their_catalogue():
    found = {one.code: " ".join(sorted(one.places)) for one in messages.MESSAGES}
    assert (messages.CATALOGUE, found) == (2, PARAMS)


@pytest.mark.parametrize(
    ("made", "french", "portuguese"),
    [
        (
            why.FAULTS_NONE_ACCEPTED(severity="critical", failed=1, n=20),
            (
                "Défauts critiques au premier passage\u00a0: 1 sur 20 foyers\u00a0; aucun n’est"
                " accepté."
            ),
            "Defeitos críticos na primeira passagem: 1 de 20 fogões; nenhum é aceite.",
        ),
        (
            why.ALL_INSPECTED(stoves=1, released=1, sound=1),
            "Contrôle complet de 1 foyer\u00a0; 1 est libéré, dont 1 sans défaut ouvert.",
            "Inspeção completa de 1 fogão; 1 é libertado, dos quais 1 sem defeito aberto.",
        ),
        (
            messages.FAILED_OF(failed=3, of=60),
            "3 sur 60",
            "3 de 60",
        ),
        (
            messages.PLAN_SAMPLE(
                drawn=20,
                lot=1200,
                regime="tightened",
                aqls=[messages.PLAN_AQL(severity="major", aql="2.5")],
                seed="G4",
            ),
            None,
            None,
        ),
    ],
)
def test_sentences_read_well(made, french, portuguese):
    words = messages.MESSAGES.word(made)
    for language, wanted in (("fr", french), ("pt", portuguese)):
        said = load_locale(language).translate(words)
        assert said == wanted if wanted else "2,5\u00a0%" in said and "tightened" not in said


def test_every_sentence_of_a_summary_is_in_the_catalogue_of_reports():
    for language in LANGUAGES:
        kept = {message.id for message in read_catalogue(language, "figures")}
        for one in messages.MESSAGES:
            assert ((one.one, one.many) if one.many else one.one) in kept, one.code


@pytest.mark.parametrize(
    ("inspect", "not_inspected", "says"),
    [
        ("every", 0, "counts of this batch are exact"),
        ("every", 3, "not drawn at random"),
        ("sample", 40, "calculated from the sample"),
    ],
)
def test_interval_says_what_it_is_about(inspect, not_inspected, says):
    document = {"plan": {"inspect": inspect}, "counts": {"not_inspected": not_inspected}}
    assert says in say_intervals(document)
    assert (inspect == "every" and not_inspected == 0) == (
        "Every stove was inspected" in say_intervals(document)
    )
