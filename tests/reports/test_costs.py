"""What faults cost: an example reckoned by hand, what is missing, the page from form to figure."""

from decimal import Decimal

import pytest

from qcapp.checklist.history import ChecklistHistory, StepRef
from qcapp.reports.costs import FaultCost, build_cost_report
from tests.builders import build_small_checklist, open_yard
from tests.page_text import text_of

CHECKLIST = build_small_checklist()
CUT, TURN = (StepRef("small-stove", step) for step in ("cut-door-opening", "turn-edge"))


def cost(minutes="20", material="15", pay="90", currency="shillings"):
    given = (None if text is None else Decimal(text) for text in (minutes, material, pay))
    return FaultCost(*given, currency)


def build(counts, costs):
    return build_cost_report(counts, costs, ChecklistHistory({CHECKLIST.hash: CHECKLIST}, {}).steps)


def test_example_reckoned_by_hand():
    """7 faults at 20 minutes, 90 an hour, 15 of material: 7 x (30 + 15) = 315; 2 more unknown."""
    report = build({CUT: 7, TURN: 2}, {CUT: cost()})
    first, second = report.rows
    assert (first.step.id, first.minutes, first.money) == ("cut-door-opening", 140, Decimal(315))
    assert (second.faults, second.money, len(second.missing)) == (2, None, 3)
    assert report.money == {"shillings": 315} and (report.faults, report.of_faults) == (9, 7)
    assert (report.minutes, report.of_minutes) == (140, 7)


@pytest.mark.parametrize("name", ["minutes", "material", "pay"])
def test_without_one_input_there_is_no_money(name):
    report = build({CUT: 3}, {CUT: cost(**{name: None})})
    row = next(row for row in report.rows if row.step.id == "cut-door-opening")
    assert row.money is None and len(row.missing) == 1 and not report.money
    assert (row.minutes is None) == (name == "minutes")


def test_cents_are_rounded_once_and_thirds_do_not_add_up_to_more():
    """3 faults of 7 minutes at 1.01 an hour: 0.3535, not 3 times 0.12."""
    report = build({CUT: 3}, {CUT: cost("7", "0", "1.01")})
    assert report.money == {"shillings": Decimal("0.35")}


def test_two_kinds_of_money_are_not_added_up():
    report = build({CUT: 1, TURN: 1}, {CUT: cost(), TURN: cost(currency="francs")})
    assert report.money == {"shillings": 45, "francs": 45}


@pytest.fixture
def yard():
    yard = open_yard()
    for n in range(1, 4):
        yard.push(yard.phone.inspect(f"B1-{n:03}", width="106", disposition="rework"))
    yard.push(
        yard.phone.inspect(
            "B1-001", at="2026-11-24T12:00:00.000Z", width="106", disposition="rework"
        )
    )
    return yard


def enter(yard, **change):
    form = {"minutes": "20", "pay": "90", "material": "15,5", "currency": "shillings", **change}
    return yard.client.post(
        "/yard/costs/small-stove/cut-door-opening", data=form, follow_redirects=False
    )


def test_page_says_what_is_missing_and_shows_no_figure(yard):
    page = text_of(yard.client.get("/yard/costs"))
    assert "There is no figure yet" in page
    assert "missing: minutes to repair one, material for one, pay per hour" in page
    assert "cost in" not in page


def test_entered_figures_become_the_reckoning_with_the_count_beside_it(yard):
    assert enter(yard).status_code == 303
    page = text_of(yard.client.get("/yard/costs?batch=B1"))
    assert "cost in shillings 136.50 3 of 3 faults have every figure" in page, "first passes only"
    assert "minutes of repair 60 3 of 3 faults have minutes" in page
    assert "Cut the door opening costs most: 136.50 of 136.50 shillings" in page
    assert "All steps 3 60 136.50 shillings" in page
    assert "no figure comes from elsewhere" in page
    assert text_of(yard.client.get("/yard/costs?batch=B0")).count("136.50") == 0


def test_newest_entry_counts_and_an_empty_field_takes_a_figure_away(yard):
    enter(yard)
    enter(yard, minutes="", material="0")
    page = text_of(yard.client.get("/yard/costs"))
    assert "missing: minutes to repair one" in page and "cost in" not in page
    form = yard.client.get("/yard/costs/small-stove/cut-door-opening").text
    assert 'name="pay" type="text" value="90"' in form and 'value="shillings"' in form


@pytest.mark.parametrize(
    "wrong", [{"minutes": "twenty"}, {"pay": "-3"}, {"material": "1e3"}, {"currency": " "}]
)
def test_what_is_no_figure_is_refused_and_stays_in_the_form(yard, wrong):
    answer = enter(yard, **wrong)
    assert answer.status_code == 400 and 'role="alert"' in answer.text
    assert "cost in" not in text_of(yard.client.get("/yard/costs"))


def test_unknown_step_is_said_plainly(yard):
    assert yard.client.get("/yard/costs/small-stove/none").status_code == 404
