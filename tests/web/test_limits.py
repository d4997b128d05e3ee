"""The lead's pages about limits: from pushed stoves to words and the plot."""

import re
from statistics import variance

import pytest

from qcapp.reports.agreement import GivenReading, compare_readings
from qcapp.store.registry.people import save_people
from tests.builders import SECOND_INSPECTOR, open_yard
from tests.page_text import text_of
from tests.web.test_studies import plan


@pytest.fixture(scope="module")
def yard():
    yard = open_yard()
    widths = [98, 99, 99, 100, 100, 100, 101, 101, 102, 103]
    yard.push(
        *(
            yard.phone.inspect(
                f"B1-{n:03}",
                width=str(widths[n % 10]),
                maker=("A01", "A02")[n % 2],
                at=f"2026-11-{1 + n // 3:02}T08:00:00.000Z",
            )
            for n in range(60)
        )
    )
    return yard


def test_list_gives_index_risk_and_count(yard):
    page = text_of(yard.client.get("/yard/limits"))
    assert (
        "door-opening-width Small stove; medium, 97 to 103 mm" in page
        and " 60 " in page
        and "upper limit is nearer" in page
    )
    assert "about" in page and "of wrongly" not in page


def test_check_shows_rule_limits_plot_and_division(yard):
    answer = yard.client.get("/yard/limits/small-stove/door-opening-width/medium")
    page = text_of(answer)
    assert "uncertainty 1 mm (k = 2); rule: simple" in page and "98 to 102 mm" in page
    assert answer.text.count("<title id=") == answer.text.count("<desc id=") == 2
    assert "Between artisans 2 with two or more" in page and "Of 1,000 made like these" in page


def test_capability_stands_beside_its_chart_only_when_that_is_stable(yard):
    page = text_of(yard.client.get("/yard/limits/small-stove/door-opening-width/medium"))
    assert (
        "Ppk" in page and "Is production stable?" in page and "Readings in the order made" in page
    )
    # The planted widths rise and fall again, ten by ten: what scatters from one to the next is not
    # what scatters in all.
    stable = "Nothing shows that it is not" in page
    assert stable == ("Cpk" in page.replace("no Cp or Cpk", ""))
    drifting = open_yard()
    drifting.push(
        *(
            drifting.phone.inspect(
                f"B1-{n:03}",
                width=str(97 + n // 10 + n % 2),
                at=f"2026-11-{1 + n // 3:02}T{8 + n % 3:02}:00:00.000Z",
            )
            for n in range(60)
        )
    )
    page = text_of(drifting.client.get("/yard/limits/small-stove/door-opening-width/medium"))
    assert "The readings drift" in page and "So there is no Cp or Cpk" in page and "Ppk" in page


def test_nothing_measured_and_unknown_check_say_so(yard):
    assert "Nothing has been measured yet" in open_yard().client.get("/yard/limits").text
    assert yard.client.get("/yard/limits/small-stove/no-check/medium").status_code == 404


def test_few_readings_give_no_figure():
    yard = open_yard()
    yard.push(yard.phone.inspect("B1-001"), yard.phone.inspect("B1-002", width="101"))
    assert "No figure: 2 readings are too few; 20 are needed" in text_of(
        yard.client.get("/yard/limits/small-stove/door-opening-width/medium")
    )
    assert "1 more without a figure yet" in text_of(yard.client.get("/yard/limits"))


READ_BY = {"I01": ("99.0", "100.5", "102.0"), "I02": ("99.5", "101.0", "101.5")}


def read_study(yard, inspectors):
    study = plan(yard)
    for inspector in inspectors:
        for repeat, shift in ((1, 0), (2, 1)):
            for stove, width in zip(
                ("B1-001", "B1-002", "B1-003"), READ_BY[inspector], strict=True
            ):
                body = {
                    "study": study,
                    "stove": stove,
                    "repeat": repeat,
                    "answers": {"door-opening-width": {"values": [str(float(width) + shift)]}},
                }
                event = yard.phone.seal(
                    "study_answer",
                    None,
                    body,
                    inspector=inspector,
                    batch=None,
                    stage=None,
                    checklist=None,
                    checklist_hash=None,
                )
                assert yard.push(event)["results"][0]["outcome"] == "created"


def test_what_a_study_found_of_the_measuring_stands_beside_what_the_checklist_states(yard):
    with yard.store.writing() as connection:
        save_people(connection, [SECOND_INSPECTOR])
    url = "/yard/limits/small-stove/door-opening-width/medium"
    read_study(yard, ["I01"])
    assert "as the study" not in text_of(yard.client.get(url))
    read_study(yard, READ_BY)
    page = text_of(yard.client.get(url))
    share = re.search(r"as the study Edges found it: 3 stoves, 2 inspectors (\d+) %", page)
    looks = [
        GivenReading(stove, inspector, repeat, float(width) + repeat - 1)
        for inspector, read in READ_BY.items()
        for stove, width in zip("abc", read, strict=True)
        for repeat in (1, 2)
    ]
    widths = [98, 99, 99, 100, 100, 100, 101, 101, 102, 103] * 6
    expected = compare_readings(looks).study.measuring.value ** 2 / variance(widths)
    assert share and int(share[1]) == round(100 * expected)
