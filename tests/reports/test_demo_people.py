"""The invented yard: few people, and what the trainer's pages say of them."""

from statistics import median

import pytest

from qcapp.app import create_app
from qcapp.inspection.tallies import Filters
from qcapp.settings import Settings
from qcapp.usecases.fill_demo import prepare_demo
from qcapp.usecases.load_trainer import load_figures
from tests.bench.teach import FITTED
from tests.builders import NOW, make_cookie, open_client
from tests.web.test_pages import text_of

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    settings, _figures = prepare_demo(
        Settings(database_url=f"sqlite:///{folder / 'demo.db'}"), fresh=False, now=NOW
    )
    app = create_app(settings, clock=lambda: NOW)
    client = open_client(app, cookie=make_cookie(app.state.store))
    return client, load_figures(app.state.store, settings, Filters())


def test_spread_of_the_demo_is_among_those_of_the_bench(demo):
    """About FITTED, and well inside none to twice that, where the promise was tried."""
    spreads = [row.spread.value for row in demo[1].teach_rows if row.spread]
    assert len(spreads) >= 3 and FITTED / 2 < median(spreads) < 1.75 * FITTED


def test_two_apprentices_are_evidence_about_two_people(demo):
    client, figures = demo
    (row,) = [one for one in figures.teach_rows if one.step == "cut-door-opening"]
    assert (row.apprentice_people, row.experienced_people) == (2, 4)
    assert row.strength not in ("very strong", "strong"), "two people are no strong evidence"
    assert [one.group for one in row.carriers] == ["apprentice", "apprentice"]
    page = text_of(client.get("/trainer"))
    assert "evidence about very few people: 2 apprentices and 4 experienced" in page


def test_experienced_person_who_carries_the_faults_is_shown(demo):
    """The apprentice fails less than the two experienced; one of these has nearly all."""
    client, figures = demo
    (row,) = [one for one in figures.teach_rows if one.ref == ("fired-liner", "pierce-grate")]
    assert row.apprentices.rate < row.experienced.rate
    (one,) = row.carriers
    assert one.group == "experienced" and row in figures.largest[:2]
    page = text_of(client.get("/trainer"))
    said = f"{one.rate.failed} of the {row.everybody.failed} faulty stoves are one person's"
    assert f"{said}: {one.name} (experienced)" in page


def test_who_began_before_the_records_has_no_curve(demo):
    client, figures = demo
    early = [
        code
        for code, person in figures.people.items()
        if person["trades"] and person["started_on"] < min(figures.rule.recorded_since.values())
    ]
    assert len(early) > 8
    for code in early:
        page = client.get(f"/trainer/artisans/{code}").text
        assert 'class="curve"' not in page and "stoves made with this step" not in page
