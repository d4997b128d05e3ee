"""The page of a batch's figures reads less than its summary: it must find the same."""

import pytest

from qcapp.reports.earlier import compare_earlier
from qcapp.reports.plan import read_plan
from qcapp.store.engine import Store
from qcapp.store.queries import batch_figures
from qcapp.store.queries.batch_facts import load_batch_facts, load_batch_outline
from qcapp.store.registry.batches import get_batch, list_batches
from qcapp.store.registry.checklists import (
    list_current_checklists,
    load_history,
    publish_checklist,
)
from qcapp.usecases.load_batch_figures import load_batch_figures, load_batch_reports
from tests.builders import Phone, Yard, build_small_checklist, open_yard
from tests.reports.test_earlier import add_batches
from tests.web.test_two_checklists import OTHER_PHONE, build_liner

NOW = "2026-11-01T00:00:00.000Z"


def open_mixed_yard(*, by_first: int, by_second: int, by_other: int) -> Yard:
    """So many finished stoves of B1 by two revisions of one checklist and by another checklist,
    the first of each bad.
    """
    yard = open_yard()
    second, other = build_small_checklist(2), build_liner("finished")
    with yard.store.writing() as connection:
        for one in (second, other):
            publish_checklist(connection, one, origin="file", now=NOW)
    phones = (
        (yard.phone, "B1-1", "100", by_first),
        (Phone(second, OTHER_PHONE), "B1-2", "100", by_second),
        (Phone(other, OTHER_PHONE.replace("bb", "cc")), "B1-3", "110", by_other),
    )
    for phone, prefix, good, count in phones:
        for n in range(count):
            width, disposition = (good, "release") if n else ("130", "rework")
            event = phone.inspect(f"{prefix}{n:02}", width=width, disposition=disposition)
            yard.push(event)
    add_batches(yard, 3)
    return yard


def check_outline(store: Store, code: str) -> None:
    with store.reading() as connection:
        batch = get_batch(connection, code)
        facts, outline = load_batch_facts(connection, batch), load_batch_outline(connection, batch)
    assert (outline.batch, outline.stage) == (facts.batch, facts.stage)
    assert list(outline.checklists.items()) == list(facts.checklists.items())
    plan = read_plan(facts)
    assert read_plan(outline) == plan
    compared = compare_earlier(facts.stoves, plan, facts.earlier)
    assert load_batch_figures(store, code).earlier == compared


@pytest.mark.parametrize("counts", [(3, 1, 2), (1, 3, 2), (1, 2, 4), (2, 2, 0), (0, 0, 3)])
def test_most_used_checklist_and_plan_are_those_of_the_summary(counts):
    first, second, other = counts
    yard = open_mixed_yard(by_first=first, by_second=second, by_other=other)
    check_outline(yard.store, "B1")
    # The earlier ones are inspected by the first checklist.
    is_alike = other < max(first, second)
    assert (load_batch_figures(yard.store, "B1").earlier is not None) == is_alike
    plan = {"inspect": "sample", "lot": "90", "level": "II", "aql_major": "2.5", "seed": "s"}
    answer = yard.client.post("/batches/B1/plan", data={**plan, "aql_minor": "4.0"})
    assert answer.status_code == 200, answer.text
    check_outline(yard.store, "B1")
    assert load_batch_figures(yard.store, "B1").earlier is None
    check_outline(yard.store, "B0")


def test_stoves_of_both_checklists_of_a_stage_are_compared_with_earlier_batches():
    """Those of one are the report's, those of the stage the comparison's."""
    yard = open_mixed_yard(by_first=3, by_second=0, by_other=2)
    with yard.store.reading() as connection:
        both = batch_figures.list_stage_passes(connection, "B1", "finished")
    reports = load_batch_reports(yard.store, "B1")
    assert sorted(one.per_stove.of for one in reports) == [2, 3] and len(both) == 5
    earlier = load_batch_figures(yard.store, "B1").earlier
    assert earlier is not None and (earlier.good, earlier.of) == (3, 5)


def test_comparison_of_the_demos_batches_is_that_of_their_summaries(demo_yard):
    store = demo_yard[0].app.state.store
    with store.reading() as connection:
        codes = [batch["code"] for batch in list_batches(connection)]
    assert len(codes) >= 6
    for code in codes:
        check_outline(store, code)


def test_page_of_each_checklist_has_its_report_and_its_stages_stoves(demo_yard):
    store = demo_yard[0].app.state.store
    reports = load_batch_reports(store, "B5")
    assert len(reports) >= 5
    for place, report in enumerate(reports):
        found = load_batch_figures(store, "B5", report.checklist)
        assert found.report == report and found.checklist is not None
        assert (found.earlier is not None) == (place == 0)
        with store.reading() as connection:
            rows = batch_figures.list_stoves(connection, "B5")
        assert [(row.serial, row.disposition, row.reason) for row in found.unreleased] == [
            (row.serial, row.disposition, row.reason)
            for row in rows
            if row.stage == report.stage and row.disposition != "release"
        ]
    assert load_batch_figures(store, "B5").report == reports[0]
    assert load_batch_figures(store, "B5", "no-such-checklist").report == reports[0]


def test_faults_of_earlier_batches_are_the_failed_checks_of_their_reports(demo_yard):
    store = demo_yard[0].app.state.store
    earlier = load_batch_figures(store, "B6").earlier
    assert earlier is not None and sum(one.faults for one in earlier.counts) > 0
    for one in earlier.counts:
        (report,) = (
            found
            for found in load_batch_reports(store, one.code)
            if found.checklist == one.checklist
        )
        assert one.faults == sum(row.failed for row in report.rows) == report.totals.faults


def test_a_checklist_without_another_revision_is_not_built_again():
    """So that its hash, by which its drawing is found, is worked out once."""
    yard = open_mixed_yard(by_first=1, by_second=1, by_other=1)
    with yard.store.reading() as connection:
        history, current = load_history(connection), list_current_checklists(connection)
    newest = {one.id: one for one in current}
    assert history.merge("small-liner") is newest["small-liner"]
    assert history.merge("small-stove") is not newest["small-stove"]
    assert history.merge("small-stove").revision == 2
