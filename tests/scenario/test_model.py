"""The scenario file is refused where it would play something that cannot happen."""

from datetime import date

import pytest
import yaml

from qcapp.errors import BadInput
from qcapp.scenario.model import load_scenario

TODAY = date(2026, 11, 25)


@pytest.fixture
def raw(checkout):
    return yaml.safe_load((checkout / "demo" / "scenario.yaml").read_text(encoding="utf-8"))


@pytest.fixture
def load_changed(raw, tmp_path):
    def load():
        path = tmp_path / "scenario.yaml"
        path.write_text(yaml.safe_dump(raw), encoding="utf-8")
        return load_scenario(path)

    return load


def test_people_and_batches_have_the_keys_the_store_keeps(load_changed):
    scenario = load_changed()
    person, batch = scenario.list_people(TODAY)[0], scenario.list_batches(TODAY)[0]
    assert set(person) == {"code", "name", "trades", "started_on", "is_inspector"}
    assert set(batch) == {
        "code",
        "title",
        "size",
        "planned",
        "attributes",
        "crew",
        "checklist_ids",
        "serial_prefix",
        "opened_on",
        "closed_at",
        "order_no",
        "contract_no",
        "ordered",
    }
    assert batch["opened_on"] == "2026-09-16"
    assert batch["closed_at"] == "2026-09-30T00:00:00.000Z"


def test_there_are_sixteen_artisans_of_whom_six_began_within_180_days(load_changed):
    artisans = [person for person in load_changed().people if not person.is_inspector]
    assert len(artisans) == 16
    assert sum(person.started_days_ago < 180 for person in artisans) == 6


def test_misspelt_key_is_named_with_its_place(raw, load_changed):
    raw["batches"][0]["plannned"] = 3
    with pytest.raises(BadInput, match=r"batches\.0\.plannned"):
        load_changed()


def test_artisan_who_had_not_started_is_refused(raw, load_changed):
    next(person for person in raw["people"] if person["code"] == "A06")["started_days_ago"] = 60
    with pytest.raises(BadInput, match="A06 had not started"):
        load_changed()


def test_cause_that_ends_before_it_begins_is_refused(raw, load_changed):
    planted = next(cause for cause in raw["planted"] if cause["id"] == "worn-template")
    planted["until_days_ago"] = planted["from_days_ago"]
    with pytest.raises(BadInput, match="it must begin before it ends"):
        load_changed()


def test_unknown_code_in_a_lesson_is_refused(raw, load_changed):
    raw["lessons"][0]["artisans"] = ["A98"]
    with pytest.raises(BadInput, match="A98"):
        load_changed()


def test_artisan_without_the_trade_is_refused(raw, load_changed):
    raw["batches"][0]["crew_pool"]["clay"] = ["A01"]
    with pytest.raises(BadInput, match="A01 does not have the trade clay"):
        load_changed()


def test_unknown_code_in_a_planted_cause_is_refused(raw, load_changed):
    raw["planted"][0]["artisans"] = ["A99"]
    with pytest.raises(BadInput, match="A99"):
        load_changed()


def test_planted_cause_without_effect_is_refused(raw, load_changed):
    del raw["planted"][0]["shift"]
    with pytest.raises(BadInput, match="shift, drift_per_day or odds_times"):
        load_changed()


def test_batch_that_closes_before_its_rework_is_refused(raw, load_changed):
    raw["batches"][0]["closed_days_ago"] = 60
    with pytest.raises(BadInput, match="closes before the last rework"):
        load_changed()


def test_file_that_is_no_yaml_is_refused(tmp_path):
    path = tmp_path / "scenario.yaml"
    path.write_text("seed: [1", encoding="utf-8")
    with pytest.raises(BadInput, match="cannot be read"):
        load_scenario(path)
