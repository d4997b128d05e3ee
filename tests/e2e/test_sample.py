"""A sample agreed on the laptop reaches the phone: which serials, and what the others are asked."""

import json

from tests.conftest import PHONE
from tests.e2e.inspector import Inspector
from tests.e2e.phone_words import word
from tests.e2e.server import read_checklist

# Level II, 40 stoves, AQL 4.0 and 6.5, seed "harvest": 13 and 8 stoves; drawn by `qcapp sample`.
PLAN = {"inspect": "sample", "lot": "40", "aql_major": "4.0", "aql_minor": "6.5", "seed": "harvest"}
DRAWN = (
    "B1-001, B1-002, B1-011, B1-013, B1-017, B1-018, B1-022, B1-025, B1-026, B1-027, B1-031,"
    " B1-037, B1-040"
)


def test_sample_is_shown_and_a_stove_outside_it_gets_a_short_check(server, chromium):
    context = chromium.new_context(**PHONE)
    server.sign_in(context)
    agreed = context.request.post(
        f"{server.address}/batches/B1/plan",
        form=PLAN,
        headers={"Origin": server.address},
        max_redirects=0,
    )
    assert agreed.status == 303
    page = context.new_page()
    compiled = read_checklist(server, "finished-stove")
    inspector = Inspector(page, compiled)
    inspector.join(server.address, server.make_code())
    page.get_by_text(word("today.sample", done=0, n=13, left=DRAWN)).wait_for()

    page.get_by_role("button", name=word("today.next")).tap()
    page.locator("#ui-scope", has_text=word("next.sampled")).wait_for()
    page.locator("#ui-serial").fill("B1-003")
    page.locator("#ui-scope", has_text=word("next.short")).wait_for()
    page.get_by_role("button", name=word("next.start")).tap()
    page.locator(".walk").wait_for()
    inspector.walk()
    page.get_by_text(word("review.good_short")).wait_for()
    inspector.save()

    page.get_by_role("button", name=word("today.next")).tap()
    page.locator("#ui-serial").fill("B1-001")
    page.get_by_role("button", name=word("next.start")).tap()
    page.locator(".walk").wait_for()
    inspector.walk()
    inspector.save()
    page.get_by_role("button", name=word("saved.today")).tap()
    page.get_by_text(word("today.sample", done=1, n=13, left="B1-002")).wait_for()
    context.close()
    check_records(server, compiled)


def check_records(server, compiled):
    critical = {check["id"] for check in compiled["checks"] if check["severity"] == "critical"}
    store = server.open_store()
    with store.reading() as connection:
        rows = connection.exec_driver_sql(
            "SELECT state, raw FROM log WHERE kind = 'inspection' ORDER BY seq"
        ).all()
    store.close()
    assert [row.state for row in rows] == ["counted", "counted"]
    short, whole = (json.loads(row.raw)["body"] for row in rows)
    assert short["scope"] == "critical" and short["disposition"]["kind"] == "release"
    counted_checks = {
        check_id
        for check_id, verdict in short["verdicts"].items()
        if verdict not in ("missing", "not_applicable")
    }
    assert counted_checks == critical - {
        check["id"] for check in compiled["checks"] if check["when"]
    }
    assert "scope" not in whole and "missing" not in whole["verdicts"].values()
