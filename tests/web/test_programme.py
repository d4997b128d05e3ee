"""Several yards, like with like: planted faults are found, unlike stoves are kept apart."""

import csv
import io

import pytest
from sqlalchemy import func, select

from qcapp.programme_app import list_stores
from qcapp.reports.yard_comparison import YardCount, build_comparison, list_groups
from qcapp.store.queries.batch_facts import list_batch_events
from qcapp.store.queries.overview import count_yard, list_first_passes
from qcapp.store.tables import TALLY
from qcapp.sync.server_events import append_server_event
from tests.builders import NOW, Phone, build_push, build_small_checklist, open_yard
from tests.i18n.test_charts_on_pages import find_lacks
from tests.page_text import text_of
from tests.programme_yards import browse, join, serve_programme, sign_in

# Stoves of each yard, and those of them with a fault.
PLANTED = {"East": (60, 6), "North": (80, 34), "South": (70, 7), "West": (90, 10), "Hill": (9, 3)}
HOST = "programme.example"


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    served = serve_programme(tmp_path_factory.mktemp("programme"), PLANTED)
    for number, (name, (stoves, failed)) in enumerate(PLANTED.items()):
        host = f"{name.lower()}.example"
        phone = Phone(
            build_small_checklist(), device_id=f"0197f000-0000-7000-8000-00000000{number:04}"
        )
        events = [inspect(phone, n, is_good=n >= failed) for n in range(stoves)]
        answer = browse(served, host).post(
            "/api/sync/push",
            json=build_push(events),
            headers=join(served, host, phone.device_id),
        )
        assert answer.status_code == 200, answer.text
    return served


def inspect(phone, number, *, is_good, **change):
    month = 10 + number % 2
    return phone.inspect(
        f"B1-{number:03}",
        width="100" if is_good else "106",
        disposition="release" if is_good else "rework",
        at=f"2026-{month}-{1 + number % 24:02}T08:00:00.000Z",
        **change,
    )


@pytest.fixture(scope="module")
def lead(served):
    return browse(served, HOST, sign_in(served, HOST, "programme_lead"))


def test_the_yard_with_planted_faults_is_named_and_the_small_one_is_not_judged(lead):
    text = text_of(lead.get("/"))
    assert "More faults than the others beyond chance: North yard" in text
    assert "Hill yard too few to tell 3 of 9" in text
    assert "North yard more faults beyond chance 34 of 80" in text
    assert text.count("more faults beyond chance") == 1


def test_its_charts_say_a_finding_their_units_their_marks_and_their_figures(lead):
    page = lead.get("/").text
    assert 'class="chart' in page
    assert list(find_lacks(page)) == []
    # 26 of 229 without North, 60 of 309 with it: two figures must not have one name.
    assert "the others together 11 %" in page and "5 yards together: 60 of 309" in page
    first_screen, _, below = page.partition("<table class")
    assert 'href="/checklists"' in first_screen and "/yards.csv" in first_screen
    assert '<a href="http://north.example">North yard</a>' in below


def test_the_file_holds_the_figures_of_the_page(lead):
    answer = lead.get("/yards.csv")
    rows = {
        row["yard"]: row for row in csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig")))
    }
    found = {
        name.split()[0]: (int(row["inspected"]), int(row["failed"])) for name, row in rows.items()
    }
    assert found == PLANTED
    assert {name: row["place"] for name, row in rows.items()} == {
        "East yard": "inside",
        "Hill yard": "few",
        "North yard": "far_beyond",
        "South yard": "inside",
        "West yard": "inside",
    }
    north = rows["North yard"]
    assert float(north["failed_share"]) > float(north["drawn_in_share"]) > float(north["low_95"])


def test_first_passes_by_month_are_the_yards_own_sums(served):
    for name, (stoves, failed) in PLANTED.items():
        with list_stores(served)[f"{name.lower()}.example"].reading() as connection:
            found = list_first_passes(connection, "2026-01-01")
            sums = connection.execute(
                select(func.sum(TALLY.c.inspected), func.sum(TALLY.c.failed)).where(
                    TALLY.c.kind == "stove", TALLY.c.day == ""
                )
            ).one()
        assert (sum(one.inspected for one in found), sum(one.failed for one in found)) == (
            stoves,
            failed,
        )
        assert tuple(sums) == (stoves, failed)
        assert {one.month for one in found} == {"2026-10", "2026-11"}


def test_a_shorter_period_leaves_out_what_is_older(lead):
    whole, short = (text_of(lead.get(f"/?days={days}")) for days in (365, 30))
    assert "34 of 80" in whole and "the last 365 days" in whole
    assert "34 of 80" not in short and "the last 30 days" in short
    assert lead.get("/?days=5000").status_code == 422


def count(yard, checklist="c1", size="medium", failed=5, good=45, unsure=0):
    return YardCount(yard, checklist, size, "2026-11", failed, good, unsure)


def test_unlike_stoves_are_never_pooled():
    counts = [
        count("A"),
        count("B"),
        count("A", size="large", failed=40, good=10),
        count("B", checklist="c2", failed=45, good=5),
    ]
    assert list_groups(counts)[0] == ("c1", "medium")
    found = build_comparison(counts, "c1", "medium", 20)
    assert [(one.yard, one.rate.failed) for one in found.yards] == [("A", 5), ("B", 5)]
    assert found.target == 0.1


def test_what_was_not_wholly_inspected_is_left_out_and_said():
    found = build_comparison([count("A", unsure=4), count("B")], "c1", "medium", 20)
    assert found.yards[0].unsure == 4 and found.yards[0].rate.inspected == 50


def test_yards_that_truly_differ_widen_the_limits_and_none_stands_out():
    shares = (5, 22, 9, 30, 14, 35, 3, 26)
    counts = [count(f"Y{n}", failed=share, good=100 - share) for n, share in enumerate(shares)]
    found = build_comparison(counts, "c1", "medium", 20)
    assert found.is_widened and not any(one.place == "far_beyond" for one in found.yards)


def test_nobody_to_compare_is_said_in_words(tmp_path):
    served = serve_programme(tmp_path, ("Lone",))
    visitor = browse(served, HOST, sign_in(served, HOST, "programme_lead"))
    assert "there is nothing to compare" in text_of(visitor.get("/"))
    assert visitor.get("/yards.csv").status_code == 404


def test_a_question_is_open_until_somebody_replies(tmp_path):
    yard = open_yard(tmp_path)
    said = {"answer": "question", "note": "which door?", "number": 1, "link": "Buyer"}
    say(yard, "buyer_answer", {**said, "sha256": "ab" * 32})
    with yard.store.reading() as connection:
        word = list_batch_events(connection, "B1")[-1]
        asked = count_yard(connection, silent_before="2026-01-01")["asked"]
    say(yard, "reply", {"answers": word.hash, "note": "the ash door"})
    with yard.store.reading() as connection:
        after = count_yard(connection, silent_before="2026-01-01")["asked"]
    assert (asked, after) == (1, 0)


def say(yard, kind, body):
    with yard.store.writing() as connection:
        append_server_event(connection, kind=kind, recorder="LEAD", body=body, now=NOW, batch="B1")
