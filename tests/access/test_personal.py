"""A person's name: where it stands, handing out what is kept,
erasing it without touching a count.
"""

import json

import pytest

from qcapp.store import log
from tests.access.test_accounts import make_trainer
from tests.builders import open_yard
from tests.cli.test_cli import make_yard, run

pytestmark = pytest.mark.slow


@pytest.fixture
def yard():
    yard = open_yard()
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", width="106", maker="A02", disposition="rework"),
    )
    return yard


def take_figures(yard):
    return [
        yard.client.get(f"/api/trainer/{name}").json() for name in ("teach", "faults")
    ], yard.client.get("/api/batches/B1").json()


def name_by_code(figures) -> str:
    return json.dumps(figures, default=str).replace("Beda", "A02")


def test_erasing_puts_the_code_in_the_names_place_and_changes_no_count(yard):
    before, tables = take_figures(yard), yard.client.get("/api/trainer/artisans").json()
    tag = yard.client.get("/api/sync/reference", headers=yard.headers).json()["tag"]
    assert "Beda" in yard.client.get("/trainer/steps").text
    assert yard.client.post("/yard/people/A02/erase").status_code == 200
    for path in (
        "/trainer/steps",
        "/trainer/inspectors",
        "/trainer/artisans/A02",
        "/yard/people",
        "/yard/people/A02.json",
        "/trainer/tables/artisans.csv",
    ):
        assert "Beda" not in yard.client.get(path).text, path
    # Whoever carries a step's faults is named beside the counts: the name alone may change.
    assert name_by_code(take_figures(yard)) == name_by_code(before)
    assert name_by_code(tables) == name_by_code(yard.client.get("/api/trainer/artisans").json())
    reference = yard.client.get("/api/sync/reference", headers=yard.headers).json()
    assert reference["tag"] != tag and "Beda" not in json.dumps(reference), "phones take the change"
    assert "erased a name" in yard.client.get("/yard/trail").text


def test_record_handed_out_holds_all_that_is_kept_under_the_code(yard):
    record = yard.client.get("/yard/people/A02.json").json()
    assert record["person"]["name"] == "Beda" and record["person"]["started_on"] == "2026-10-01"
    assert record["checks_judged_of_own_work"] == 3 and record["inspections_made"] == 0
    with yard.store.reading() as connection:
        with_code = [
            json.loads(row.raw)["id"]
            for row in log.list_after(connection, 0, None)
            if '"A02"' in row.raw
        ]
    assert record["records_with_this_code"] == with_code and len(with_code) == 1
    inspector = yard.client.get("/yard/people/I01.json").json()
    assert inspector["inspections_made"] == 2 and len(inspector["records_with_this_code"]) == 2


def test_account_is_a_person_too_and_its_password_is_never_handed_out(yard):
    make_trainer(yard)
    answer = yard.client.get("/yard/people/T01.json")
    assert answer.json()["account"]["name"] == "Taro" and "argon" not in answer.text
    yard.client.post("/yard/people/T01/erase")
    assert "Taro" not in yard.client.get("/yard/accounts").text


def test_unknown_person_is_said_plainly(yard):
    assert yard.client.get("/yard/people/NONE.json").status_code == 404
    assert yard.client.post("/yard/people/NONE/erase").status_code == 404


def test_commands_do_the_same(tmp_path):
    url = make_yard(f"sqlite:///{tmp_path / 'yard.db'}")
    (tmp_path / "yard.yaml").write_text(
        "people:\n  - {code: A02, name: Beda, trades: [metalwork], started_on:"
        " 2026-10-01}\nbatches: []\n"
    )
    assert run("yard", tmp_path / "yard.yaml", database=url).returncode == 0
    assert (
        json.loads(run("person", "export", "A02", database=url).stdout)["person"]["name"] == "Beda"
    )
    assert run("person", "erase", "NONE", "--yes", database=url).returncode == 1
    assert run("person", "erase", "A02", "--yes", database=url).returncode == 0
    assert (
        json.loads(run("person", "export", "A02", database=url).stdout)["person"]["name"] == "A02"
    )
    assert "name_erased" in run("export", "log", database=url).stdout
    made = run("account", "link", database=url)
    assert (
        made.returncode == 0
        and "/welcome/" in made.stdout
        and run("account", "list", database=url).stdout == ""
    )
    assert run("account", "link", "--code", "NONE", database=url).returncode == 1
