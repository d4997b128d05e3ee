"""A batch beside the yard's earlier ones: which are alike, what is expected, what a buyer sees."""

import json

import pytest

from qcapp.reports.batch_series import BatchPoint, chart_batches
from qcapp.reports.earlier import compare_earlier, describe_earlier
from qcapp.reports.plan import read_plan
from qcapp.store.registry.batches import save_batches
from tests.builders import BATCHES, open_yard
from tests.page_text import text_of
from tests.reports.test_plan import facts_of

CLOSED = "2026-11-24T20:00:00.000Z"


def add_batches(yard, count, *, bad=2, of=10, closed_at=CLOSED, **change):
    """Batches OTHER1, OTHER2 ... opened one a day before B1, each with so many bad stoves."""
    with yard.store.writing() as connection:
        save_batches(
            connection,
            [
                {
                    **BATCHES[0],
                    "code": f"OTHER{n}",
                    "serial_prefix": f"OTHER{n}-",
                    "opened_on": f"2026-10-{n:02}",
                    "closed_at": closed_at,
                    **change,
                }
                for n in range(1, count + 1)
            ],
        )
    for n in range(1, count + 1):
        fill(yard, f"OTHER{n}", bad=bad, of=of)


def fill(yard, code, *, bad, of):
    yard.push(
        *(
            yard.phone.inspect(
                f"{code}-{at:03}",
                width="106" if at <= bad else "100",
                disposition="rework" if at <= bad else "release",
                batch=code,
            )
            for at in range(1, of + 1)
        )
    )


@pytest.fixture
def yard(tmp_path):
    return open_yard(tmp_path)


def compare(yard):
    facts = facts_of(yard)
    plan = read_plan(facts)
    return compare_earlier(facts.stoves, plan, facts.earlier), describe_earlier(facts, plan)


def test_batches_alike_are_found_in_the_order_opened(yard):
    add_batches(yard, 4)
    fill(yard, "B1", bad=2, of=10)
    found, shown = compare(yard)
    assert [one.code for one in found.counts] == ["OTHER1", "OTHER2", "OTHER3", "OTHER4"]
    assert [(one.inspected, one.good, one.faults) for one in found.counts] == [(10, 8, 2)] * 4
    assert (found.good, found.of, found.faults) == (8, 10, 2) and found.is_within
    assert (shown["batches"], shown["stoves"], shown["good"]) == (4, 40, 32)
    assert (shown["lowest"], shown["highest"], shown["is_within"]) == ("0.8000", "0.8000", True)


@pytest.mark.parametrize(
    "change",
    [
        {"size": "large"},
        {"checklist_ids": ["other-stove"]},
        {"opened_on": "2026-11-02"},
        {"opened_on": None},
    ],
)
def test_another_size_checklist_or_a_later_batch_is_not_alike(yard, change):
    add_batches(yard, 3, **change)
    fill(yard, "B1", bad=2, of=10)
    assert compare(yard) == (None, None)


def test_a_much_worse_batch_is_told(yard):
    add_batches(yard, 5, bad=1, of=20)
    fill(yard, "B1", bad=12, of=20)
    found, shown = compare(yard)
    assert found.is_within is False and shown["is_within"] is False
    assert found.expected.low > 8 / 20
    assert "not among them" in text_of(yard.client.get("/batches/B1/figures"))


def test_fewer_than_three_say_nothing_to_a_buyer_and_no_limits_to_the_lead(yard):
    add_batches(yard, 2)
    fill(yard, "B1", bad=2, of=10)
    found, shown = compare(yard)
    assert found.expected is None and found.is_within is None and shown is None
    page = text_of(yard.client.get("/batches/B1/figures"))
    assert "too few to say what is usual" in page and "All earlier batches 20 16 80 % 4" in page


def test_open_batches_are_not_shown_to_a_buyer(yard):
    add_batches(yard, 3, closed_at=None)
    fill(yard, "B1", bad=2, of=10)
    found, shown = compare(yard)
    assert len(found.counts) == 3 and shown is None


def test_batches_by_sample_are_no_likeness(yard):
    add_batches(yard, 3)
    fill(yard, "B1", bad=0, of=3)
    plan = {"inspect": "sample", "lot": "90", "level": "II", "seed": "s"}
    assert yard.client.post("/batches/OTHER2/plan", data=plan).status_code == 200
    assert [one.code for one in compare(yard)[0].counts] == ["OTHER1", "OTHER3"]
    yard.client.post("/batches/B1/plan", data=plan)
    assert compare(yard) == (None, None)


def test_buyer_sees_the_sum_and_neither_code_nor_day_of_another_batch(yard):
    add_batches(yard, 4, title="For somebody else")
    fill(yard, "B1", bad=2, of=10)
    assert yard.client.post("/batches/B1/summaries", follow_redirects=False).status_code == 303
    page = yard.client.get("/batches/B1/summaries/1")
    assert (
        "The yard's 4 earlier batches of this checklist and size, inspected stove by stove: "
        "32 of 40 stoves good at the first inspection, 80 %; by batch from 80 % to 80 %."
    ) in text_of(page).replace("&#39;", "'")
    document = json.dumps(yard.client.get("/batches/B1/summaries/1.json").json()["summary"])
    for hidden in ("OTHER1", "OTHER4", "2026-10-0", "somebody else"):
        assert hidden not in document and hidden not in page.text


# --- charts by batch


def test_charts_of_batches_name_their_finding_and_keep_their_counts():
    even = [BatchPoint(f"D{n}", 50, 40, 12) for n in range(5)]
    run, rate, laney, count, laney_count = chart_batches(even)
    assert run.centre == 20 and set(run.lows) == {None}, "the plain run stands first"
    assert str(run.title) == "Share with a fault by batch: from 10 of 50 to 10 of 50"
    assert str(rate.title).startswith("No batch stands out:")
    assert rate.labels[0] == "D0: 10 of 50" and rate.values[0] == pytest.approx(20)
    assert count.labels[0] == "D0: 12 on 50" and count.values[0] == pytest.approx(0.24)
    assert "Laney" in str(laney.title) and "Laney" in str(laney_count.title)
    odd = [*even, BatchPoint("D9", 50, 10, 90)]
    titles = [str(row.title) for row in chart_batches(odd)]
    assert titles[1].startswith("1 batch stands out") and titles[3].startswith("1 batch stands")


def test_few_batches_have_no_laney_chart_and_one_has_none():
    points = [BatchPoint(f"D{n}", 50, 40, 12) for n in range(3)]
    assert len(chart_batches(points)) == 3 and chart_batches(points[:1]) == []


def test_page_of_batches_has_its_charts(yard):
    assert "No two batches" in text_of(yard.client.get("/trainer/batches"))
    add_batches(yard, 4)
    fill(yard, "B1", bad=2, of=10)
    page = yard.client.get("/trainer/batches")
    # The store has shipped checklists beside the small one: the batch's own is taken.
    assert "Small stove, medium" in text_of(page) and page.text.count('<svg class="chart"') == 5
    for words in ("p chart", "p&#39; chart", "u chart", "u&#39; chart", "limits", "centre"):
        assert words in page.text, words


def test_faults_stove_by_stove_stand_in_a_c_chart(yard):
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(1, 20)))
    yard.push(
        yard.phone.inspect("B1-020", edge="fail", width="106", dents="fail", disposition="rework")
    )
    page = text_of(yard.client.get("/batches/B1/figures"))
    assert "Faults stove by stove (c chart): 1 stove stands out, with up to 3 faults" in page
    assert "B1-020: 3 3.00" in page


# --- what a sample lets through


def test_sample_says_what_goes_out_on_average_on_every_paper(yard):
    """20 of 90 with Ac 1: the worst average is 0.8400 / 20 x 70 / 90 by Dodge and Romig's Poisson,
    a little less by the binomial.
    """
    fill(yard, "B1", bad=0, of=3)
    plan = {"inspect": "sample", "lot": "90", "level": "II", "seed": "s", "aql_major": "2.5"}
    yard.client.post("/batches/B1/plan", data=plan)
    page = text_of(yard.client.get("/batches/B1"))
    assert "On average at most 3.2 % of the stoves leave the yard with a major fault" in page
    yard.client.post("/batches/B1/summaries")
    limits = yard.client.get("/batches/B1/summaries/1.json").json()["summary"]["plan"]["limits"]
    by_severity = {limit["severity"]: limit["outgoing_limit"] for limit in limits}
    assert by_severity["critical"] is None
    assert float(by_severity["major"]) == pytest.approx(0.84 / 20 * 70 / 90, rel=0.02)
    shown = text_of(yard.client.get("/batches/B1/summaries/1"))
    assert "on average at most 3.22 % leave the yard with a major fault (AOQL)" in shown


def test_where_every_stove_is_inspected_nothing_is_let_through_by_a_sample(yard):
    fill(yard, "B1", bad=0, of=3)
    assert "AOQL" not in text_of(yard.client.get("/batches/B1"))
