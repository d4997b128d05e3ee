"""The lead's pages about limits: from pushed stoves to words and the plot."""

import pytest

from tests.builders import open_yard
from tests.web.test_pages import text_of


@pytest.fixture(scope="module")
def yard():
    yard = open_yard()
    widths = [98, 99, 99, 100, 100, 100, 101, 101, 102, 103]
    yard.push(*(yard.phone.inspect(f"B1-{n:03}", width=str(widths[n % 10]), maker=("A01", "A02")[n % 2], at=f"2026-11-{1 + n // 3:02}T08:00:00.000Z") for n in range(60)))
    return yard


def test_list_gives_index_risk_and_count(yard):
    page = text_of(yard.client.get("/yard/limits"))
    assert "door-opening-width medium, 97 to 103 mm" in page and " 60 " in page and "upper limit is nearer" in page
    assert "about" in page and "of wrongly" not in page


def test_check_shows_rule_limits_plot_and_division(yard):
    answer = yard.client.get("/yard/limits/door-opening-width/medium")
    page = text_of(answer)
    assert "uncertainty 1 mm (k = 2); rule: simple" in page and "98 to 102 mm" in page
    assert answer.text.count("<title id=") == 1 and answer.text.count("<desc id=") == 1
    assert "Between artisans 2 with two stoves or more" in page and "Of 1,000 stoves made like these" in page


def test_nothing_measured_and_unknown_check_say_so(yard):
    assert "Nothing has been measured yet" in open_yard().client.get("/yard/limits").text
    assert yard.client.get("/yard/limits/no-check/medium").status_code == 404


def test_few_readings_give_no_figure():
    yard = open_yard()
    yard.push(yard.phone.inspect("B1-001"), yard.phone.inspect("B1-002", width="101"))
    assert "No figure: 2 readings are too few; 20 are needed" in text_of(yard.client.get("/yard/limits/door-opening-width/medium"))
    assert "No figure yet for 1 more" in text_of(yard.client.get("/yard/limits"))
