"""The register of templates and gauges: entered, checked by a phone, due, beside drift."""

import re
from datetime import timedelta

import pytest

from qcapp.store import log
from qcapp.store.queries.gauge_queries import list_gauges
from qcapp.store.registry.yard_facts import save_yard_facts
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.reference import build_hello, build_reference
from qcapp.sync.server_events import record_server_event
from qcapp.usecases.work_queue import load_work
from tests.builders import NOW, open_yard
from tests.inspection.test_gauges import TERMS
from tests.page_text import text_of

pytestmark = pytest.mark.both_engines
FORM = {
    "kind": "template",
    "name": "Door template 2",
    "use": "step:cut-door-opening",
    "piece": "steel master",
    "value": "100,0",
    "tolerance": "0.5",
    "unit": "mm",
    "interval_days": "28",
}


@pytest.fixture
def yard():
    found = open_yard()
    with found.store.writing() as connection:
        save_yard_facts(connection, is_ended=True)
    return found


def register(yard, days_ago=40, **change):
    """Id of one that was registered so long ago."""
    return record_server_event(
        yard.store,
        kind="gauge",
        recorder="lead",
        body=TERMS | change,
        now=NOW - timedelta(days=days_ago),
    )


def check(yard, gauge, value, *, days_ago=0, held_against=None, **change):
    body = {
        "gauge": gauge,
        "held_against": held_against or gauge,
        "value": value,
        "verdict": "pass",
    }
    plain = {"stage": None, "batch": None, "checklist": None, "checklist_hash": None}
    at = format_timestamp(NOW - timedelta(days=days_ago))
    return yard.phone.seal("gauge_check", None, body, at=at, **(plain | change))


def read_queue(yard):
    return [(str(item.text), days) for item, days in load_work(yard.store, now=NOW, backups=None)]


def test_registered_one_is_shown_due_at_once_and_in_the_leads_queue(yard):
    answer = yard.client.post("/trainer/gauges", data=FORM)
    assert answer.status_code == 200 and "Door template 2" in text_of(answer)
    page = text_of(yard.client.get("/trainer/gauges"))
    assert "1 is due" in page and "due today" in page and "100.0 ± 0.5 mm" in page
    assert read_queue(yard) == [("1 template or gauge is due for its check: Door template 2", 0)]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": ""}, "name"),
        ({"use": "step:unknown"}, "use"),
        ({"use": "tool:unknown"}, "use"),
        ({"value": "abc"}, "value"),
        ({"value": "0"}, "value"),
        ({"tolerance": "0"}, "tolerance"),
        ({"tolerance": "100"}, "tolerance"),
        ({"interval_days": "0"}, "interval_days"),
        ({"interval_days": "3"}, "interval_days"),
        ({"longer_percent": "99"}, "longer_percent"),
        ({"template": "no-such"}, "use"),
    ],
)
def test_form_is_refused_beside_its_field_and_keeps_what_was_typed(yard, change, field):
    answer = yard.client.post("/trainer/gauges", data=FORM | change)
    assert answer.status_code == 400 and f'href="#f-{field}"' in answer.text
    assert "steel master" in answer.text
    with yard.store.reading() as connection:
        assert list_gauges(connection) == []


def test_check_of_a_phone_moves_the_due_date_and_the_reference(yard):
    gauge = register(yard)
    before = build_reference(yard.store, yard_name="Yard")
    (asked,) = before["gauges"]
    assert (asked["lower"], asked["value"], asked["upper"]) == (99.5, 100.0, 100.5)
    assert asked["checked_at"] is None and asked["due_on"] == "2026-10-16"
    assert yard.push(check(yard, gauge, "100.2"))["results"][0]["outcome"] == "created"
    after = build_reference(yard.store, yard_name="Yard")
    assert after["gauges"][0]["due_on"] == "2027-01-06", "42 days"
    assert after["tag"] != before["tag"]
    assert build_hello(yard.store, yard_name="Yard", now=NOW)["reference_tag"] == after["tag"]
    assert read_queue(yard) == []
    page = text_of(yard.client.get(f"/trainer/gauges/{gauge}"))
    assert "within its tolerance by the last check (+0.2 mm)" in page and "Ciro" in page
    assert "Interval: 42 days" in page


def test_one_outside_is_due_at_once_and_named_by_itself(yard):
    gauge = register(yard)
    yard.push(check(yard, gauge, "100.9", days_ago=2))
    assert read_queue(yard) == [("Door template 2 is outside its tolerance", 2)]
    page = text_of(yard.client.get(f"/trainer/gauges/{gauge}"))
    assert "set it right or replace it" in page and "14 days shorter" in page


def test_wrong_check_is_voided_and_one_no_longer_used_leaves_the_register(yard):
    gauge = register(yard)
    wrong = check(yard, gauge, "190")
    yard.push(wrong)
    yard.client.post(f"/trainer/gauges/{gauge}/checks/{wrong['id']}/void")
    assert build_reference(yard.store, yard_name="Yard")["gauges"][0]["voided"] == [wrong["id"]]
    assert "not checked yet" in text_of(yard.client.get("/trainer/gauges"))
    yard.client.post(f"/trainer/gauges/{gauge}/remove")
    assert build_reference(yard.store, yard_name="Yard")["gauges"] == []
    assert yard.client.get(f"/trainer/gauges/{gauge}").status_code == 404
    late = check(yard, gauge, "100", days_ago=1)
    assert yard.push(late)["results"][0]["outcome"] == "created", "a phone may come late"


def test_changed_terms_are_a_new_record_and_keep_the_checks(yard):
    gauge = register(yard)
    yard.push(check(yard, gauge, "100.2", days_ago=1))
    yard.client.post(f"/trainer/gauges/{gauge}", data=FORM | {"tolerance": "0.1"})
    with yard.store.reading() as connection:
        (found,) = list_gauges(connection)
    assert found.id == gauge and found.terms.id != gauge and len(found.checks) == 1
    assert str(found.terms.tolerance) == "0.1"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"inspector": "NOBODY"}, "unknown_inspector"),
        ({"held_against": "0197f000-0000-7000-8000-000000000000"}, "unknown_gauge"),
    ],
)
def test_check_by_a_stranger_or_of_an_unknown_gauge_is_held_back(yard, change, says):
    gauge = register(yard)
    result = yard.push(check(yard, gauge, "100", **change))["results"][0]
    assert result["outcome"] == "quarantined" and result["reason"]["code"] == says
    page = yard.client.get("/yard/quarantine")
    href = re.search(r'href="(/yard/quarantine/\d+)"', page.text)
    assert "100" in text_of(yard.client.get(href[1]))
    with yard.store.reading() as connection:
        assert list_gauges(connection)[0].checks == ()


def test_checks_are_no_stove_and_change_no_figure(yard):
    gauge = register(yard)
    yard.push(yard.phone.inspect("B1-001"))
    before = [text_of(yard.client.get(at)) for at in ("/trainer", "/batches/B1", "/batches")]
    yard.push(check(yard, gauge, "150"))
    assert [
        text_of(yard.client.get(at)) for at in ("/trainer", "/batches/B1", "/batches")
    ] == before


def test_drift_of_a_template_and_its_checks_stand_beside_each_other(yard):
    body = {"step": "cut-door-opening", "name": "Door template 2", "artisans": ["A01"]}
    shared = record_server_event(yard.store, kind="template", recorder="lead", body=body, now=NOW)
    drift = yard.client.get("/trainer/drift")
    assert f"/trainer/gauges?template={shared}" in drift.text
    form = yard.client.get(f"/trainer/gauges?template={shared}").text
    assert f'name="template" value="{shared}"' in form and 'value="Door template 2"' in form
    gauge = register(yard, template=shared)
    yard.push(
        check(yard, gauge, "100.3"),
        *(yard.phone.inspect(f"B1-{n:03}", width=str(99 + n)) for n in range(3)),
    )
    drift = yard.client.get("/trainer/drift")
    assert f"/trainer/gauges/{gauge}" in drift.text
    assert "+0.3 mm from the master piece" in text_of(drift)
    row = yard.client.get(f"/trainer/drift/checks/small-stove/door-opening-width/template/{shared}")
    assert row.status_code == 200 and f"/trainer/gauges/{gauge}" in row.text
    assert "within its tolerance by the last check" in row.text
    (asked,) = build_reference(yard.store, yard_name="Yard")["gauges"]
    assert asked["artisans"] == ["A01"]
    with yard.store.reading() as connection:
        assert len(log.list_by_kind(connection, "gauge_check")) == 1
