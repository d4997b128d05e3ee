"""Studies, second looks and pace through the server: plan, order to phones, sheets, answers,
pages.
"""

import re

import pytest

from qcapp.inspection.event import stove_key
from qcapp.inspection.study import is_looked_at_twice
from qcapp.store import log
from qcapp.store.registry.people import save_people
from tests.builders import SECOND_INSPECTOR, open_yard
from tests.page_text import text_of

NO_STUDY = "0197f000-0000-7000-8000-00000000ffff"
PLAN = {
    "title": "Edges",
    "checklist": "small-stove",
    "batch": "B1",
    "stoves": "B1-001, B1-002 B1-003",
    "inspectors": ["I01", "I02"],
    "repeats": "2",
    "checks": ["sharp-edge", "door-opening-width"],
}


@pytest.fixture
def yard():
    yard = open_yard()
    with yard.store.writing() as connection:
        save_people(connection, [SECOND_INSPECTOR])
    return yard


def plan(yard, **change):
    answer = yard.client.post("/yard/studies", data={**PLAN, **change}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"].rsplit("/", 1)[1]


def fill(yard, study, inspector, *, edge="pass", width="100"):
    page = yard.client.get(f"/yard/studies/{study}/sheet/{inspector}").text
    form = {}
    for place, _stove in re.findall(r"<h2>(\d+)\. Stove (\S+?)(?:</h2>| )", page):
        form |= {f"{place}.sharp-edge": edge, f"{place}.door-opening-width.0": width}
    return yard.client.post(
        f"/yard/studies/{study}/sheet/{inspector}", data=form, follow_redirects=False
    )


def test_sheet_of_more_fields_than_the_framework_reads_by_itself_is_read(yard):
    study = plan(yard)
    form = {f"1.other-{at}.0": "" for at in range(1500)} | {"1.sharp-edge": "pass"}
    answer = yard.client.post(f"/yard/studies/{study}/sheet/I01", data=form, follow_redirects=False)
    assert answer.status_code == 303, text_of(answer)
    assert "Recorded." in yard.client.get(f"/yard/studies/{study}/sheet/I01").text


def answer_event(yard, study, stove="B1-001", inspector="I02", **change):
    body = {
        "study": study,
        "stove": stove,
        "repeat": 1,
        "answers": {"sharp-edge": {"mark": "fail"}},
        **change,
    }
    return yard.phone.seal(
        "study_answer",
        None,
        body,
        inspector=inspector,
        batch=None,
        stage=None,
        checklist=None,
        checklist_hash=None,
    )


def test_phones_get_the_study_with_each_inspectors_own_order_until_it_is_closed(yard):
    tag = yard.client.get("/api/sync/hello").json()["reference_tag"]
    study = plan(yard)
    assert yard.client.get("/api/sync/hello").json()["reference_tag"] != tag
    (asked,) = yard.client.get("/api/sync/reference", headers=yard.headers).json()["studies"]
    assert asked["id"] == study and asked["checks"] == PLAN["checks"] and asked["size"] == "medium"
    assert set(asked["orders"]) == {"I01", "I02"} and len(asked["orders"]["I01"]) == 6
    assert sorted(look["stove"] for look in asked["orders"]["I02"]) == [
        "B1-001",
        "B1-001",
        "B1-002",
        "B1-002",
        "B1-003",
        "B1-003",
    ]
    yard.client.post(f"/yard/studies/{study}/close")
    assert yard.client.get("/api/sync/reference", headers=yard.headers).json()["studies"] == []


def test_phone_answers_count_in_the_study_and_nowhere_else(yard):
    study = plan(yard)
    assert yard.push(answer_event(yard, study))["results"][0]["outcome"] == "created"
    assert "Dodo (I02): 1 of 6 looks" in text_of(yard.client.get(f"/yard/studies/{study}"))
    assert "This filter shows no inspection" in text_of(yard.client.get("/trainer"))


def test_answers_do_not_reach_other_phones(yard):
    study = plan(yard)
    yard.push(answer_event(yard, study), yard.phone.inspect("B1-009"))
    other = yard.pair("0197f000-0000-7000-8000-0000000000bb")
    pulled = yard.client.get("/api/sync/pull", headers=other).json()
    kinds = [row["event"]["kind"] for row in pulled["events"]]
    assert "study_answer" not in kinds and "inspection" in kinds and not pulled["more"]
    again = yard.client.get(f"/api/sync/pull?cursor={pulled['cursor']}", headers=other).json()
    assert again["lineage"] == "ok" and again["events"] == []


@pytest.mark.parametrize(
    ("change", "params"),
    [
        ({"inspector": "I99"}, {"inspector": "I99"}),
        ({"study": NO_STUDY}, {"study": NO_STUDY}),
    ],
)
def test_answer_that_cannot_count_is_kept_aside(yard, change, params):
    study = change.get("study") or plan(yard)
    event = answer_event(yard, study, inspector=change.get("inspector", "I02"))
    (result,) = yard.push(event)["results"]
    (kind,) = params
    reason = {"code": f"unknown_{kind}", "params": params}
    assert result["outcome"] == "quarantined" and result["reason"] == reason
    with yard.store.reading() as connection:
        assert event["id"] in {row.id for row in log.list_quarantined(connection)}


def test_sheet_on_the_page_is_enough_to_run_a_study(yard):
    study = plan(yard)
    assert (
        fill(yard, study, "I01").status_code
        == fill(yard, study, "I02", edge="fail").status_code
        == 303
    )
    page = text_of(yard.client.get(f"/yard/studies/{study}"))
    assert (
        "All inspectors gave the same verdict on 0 of 3 stoves" in page
        and "Agreement is weak" in page
        and "Dodo fail" in page
    )
    assert "Recorded." in yard.client.get(f"/yard/studies/{study}/sheet/I01").text
    assert "all readings are equal" in page
    # A second sheet of the same looks is not blind any more: the first stays.
    fill(yard, study, "I01", edge="fail")
    assert "All inspectors gave the same verdict on 0 of 3 stoves" in text_of(
        yard.client.get(f"/yard/studies/{study}")
    )


def test_mistyped_sheet_loses_nothing_and_records_nothing(yard):
    study = plan(yard)
    form = {
        "1.sharp-edge": "fail",
        "1.door-opening-width.0": "101,5",
        "2.door-opening-width.0": "wide",
    }
    answer = yard.client.post(f"/yard/studies/{study}/sheet/I01", data=form)
    assert (
        answer.status_code == 400
        and "line 2" in text_of(answer)
        and "Nothing was recorded" in text_of(answer)
    )
    assert (
        'value="101,5"' in answer.text
        and 'value="wide"' in answer.text
        and '<option value="fail" selected>' in answer.text
    )
    assert "0 of 6 looks" in text_of(yard.client.get(f"/yard/studies/{study}"))


@pytest.mark.parametrize(
    "change",
    [
        {"stoves": "B1-001"},
        {"inspectors": ["I01"]},
        {"inspectors": ["I01", "X"]},
        {"checks": ["none"]},
        {"batch": "B9"},
        {"checklist": "none"},
    ],
)
def test_plan_that_cannot_be_is_refused(yard, change):
    answer = yard.client.post("/yard/studies", data={**PLAN, **change}, follow_redirects=False)
    assert (
        answer.status_code == 400
        and "No study is planned yet" in yard.client.get("/yard/studies").text
    )


def test_unknown_study_or_inspector_is_not_found(yard):
    study = plan(yard)
    for address in (
        "/yard/studies/none",
        f"/yard/studies/{study}/sheet/I99",
        "/yard/pace/finished/B1-777",
    ):
        assert yard.client.get(address).status_code == 404


def drawn_serial(yard):
    with yard.store.reading() as connection:
        server_id = log.get_server_id(connection)
    return next(
        serial
        for n in range(999)
        if is_looked_at_twice(server_id, stove_key("finished", serial := f"B1-{n:03}"))
    )


def test_drawn_stove_is_offered_checked_again_by_another_and_compared(yard):
    serial = drawn_serial(yard)
    yard.push(yard.phone.inspect(serial))
    assert yard.client.get("/api/sync/reference", headers=yard.headers).json()["second_looks"] == [
        {"stove": f"finished/{serial}", "batch": "B1", "but_inspector": "I01"}
    ]
    sheet = yard.client.get(f"/yard/pace/finished/{serial}").text
    assert "Dodo (I02)" in sheet and "(I01)" not in sheet
    form = {
        "inspector": "I02",
        "1.sharp-edge": "fail",
        "1.door-opening-width.0": "100",
        "1.dents": "pass",
    }
    assert (
        yard.client.post(
            f"/yard/pace/finished/{serial}", data={**form, "inspector": "I01"}
        ).status_code
        == 400
    )
    assert (
        yard.client.post(
            f"/yard/pace/finished/{serial}", data=form, follow_redirects=False
        ).status_code
        == 303
    )
    page = text_of(yard.client.get("/yard/pace"))
    assert "2 of 3 checks got the same verdict again" in page and "No stove is waiting" in page
    assert yard.client.get("/api/sync/reference", headers=yard.headers).json()["second_looks"] == []
    # The stove itself stays as it was first found.
    assert "100 %" in text_of(yard.client.get("/batches/B1/figures"))


def test_pace_page_names_a_quick_row_and_says_it_is_no_reproach(yard):
    yard.push(
        *(
            yard.phone.inspect(f"B1-{n:03}", at=f"2026-11-24T08:0{n // 2}:{30 * (n % 2):02}.000Z")
            for n in range(7)
        )
    )
    page = text_of(yard.client.get("/yard/pace"))
    assert "7 stoves in 3 minutes" in page and "not a reproach" in page
