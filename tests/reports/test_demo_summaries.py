"""The invented yard's best and worst batch,
from the filled database to the buyer's page and the printed form.
"""

import io
import json

import jsonschema
import pytest
from pypdf import PdfReader

from qcapp.access.summary_links import make_summary_link
from qcapp.app import create_app
from qcapp.reports.totals import list_wrong_sums_of
from qcapp.settings import Settings
from qcapp.store.queries import summaries
from qcapp.store.registry import batches
from qcapp.usecases.fill_demo import give_to_buyer, prepare_demo
from tests.builders import NOW, ROOT, make_cookie, open_client
from tests.page_text import text_of

pytestmark = pytest.mark.slow

SCHEMA = json.loads(
    (ROOT / "qcapp" / "reports" / "summary.schema.json").read_text(encoding="utf-8")
)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo served in this process, a summary of every batch issued: {code:
    document} beside the client.
    """
    folder = tmp_path_factory.mktemp("demo")
    settings, _figures = prepare_demo(
        Settings(database_url=f"sqlite:///{folder / 'demo.db'}"), fresh=False, now=NOW
    )
    assert settings.key_file == folder / "demo.pem"
    app = create_app(settings, clock=lambda: NOW)
    client = open_client(app, cookie=make_cookie(app.state.store))
    with client.app.state.store.reading() as connection:
        codes = [batch["code"] for batch in batches.list_batches(connection)]
        issued = {code for code in codes if summaries.list_summaries(connection, code)}
    assert issued == {"B5"}, "the one about which the buyer asks"
    for code in sorted(set(codes) - issued):
        assert client.post(f"/batches/{code}/summaries", follow_redirects=False).status_code == 303
    with client.app.state.store.reading() as connection:
        return client, {code: summaries.find_proof(connection, code)["summary"] for code in codes}


def first_pass_rate(document):
    return float(document["first_pass"]["rate"])


def test_every_summary_keeps_to_the_schema_and_adds_up(demo):
    for document in demo[1].values():
        jsonschema.validate(document, SCHEMA)
        counts = document["counts"]
        assert not list_wrong_sums_of(document)
        for measure in document["measures"]:
            assert (
                sum(one["count"] for one in measure["bins"]) == measure["n"] == counts["inspected"]
            )


def test_best_batch_may_be_taken_and_the_worst_is_not_ready(demo):
    documents = demo[1]
    best, worst = (
        max(documents.values(), key=first_pass_rate),
        min(documents.values(), key=first_pass_rate),
    )
    assert best["decision"]["final"] == "accept" and first_pass_rate(best) > 0.7
    assert worst["decision"]["final"] == "not_ready" and first_pass_rate(worst) < 0.65
    assert worst["decision"]["reasons"]
    open_batch = documents["B6"]["decision"]
    assert open_batch["final"] == "not_ready"
    assert "not_inspected" in {reason["code"] for reason in open_batch["reasons"]}


def test_planted_causes_lead_the_worst_batch(demo):
    worst = min(demo[1].values(), key=first_pass_rate)
    assert worst["causes"][0]["check"] == "door-opening-width"
    widths = {
        code: measure
        for code, document in demo[1].items()
        for measure in document["measures"]
        if measure["check"] == "door-opening-width"
    }
    assert widths[worst["batch"]["code"]]["outside"] >= 5
    shown = [float(width["ppk"]["high"]) for width in widths.values() if width["ppk"]]
    assert len(shown) >= 2 and max(shown) < 1, "a capable cutter would be above 1.33"


def test_both_are_shown_and_printed_without_a_maker(demo):
    client, documents = demo
    people = [f"A{code:02}" for code in range(1, 17)]
    for pick in (max, min):
        document = pick(documents.values(), key=first_pass_rate)
        code = document["batch"]["code"]
        link = make_summary_link(
            client.app.state.store, batch=code, label="x", made_by="lead", days=9, now=NOW
        )
        page = text_of(client.get(f"/s/{link}"))
        pdf = " ".join(
            part.extract_text()
            for part in PdfReader(io.BytesIO(client.get(f"/s/{link}/summary.pdf").content)).pages
        )
        for text in (page, pdf):
            assert {"accept": "Accept", "not_ready": "Not ready"}[
                document["decision"]["final"]
            ] in text
            assert not any(word in text.split() for word in people)


def test_demo_gives_its_buyer_the_newest_closed_batch(demo):
    client, documents = demo
    token = give_to_buyer(client.app.state.store, client.app.state.settings, NOW)
    page = text_of(client.get(f"/s/{token}"))
    assert "Batch B5" in page and documents["B5"]["number"] == 1 and "summary 1, issued" in page
