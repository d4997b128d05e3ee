"""The lead's page of the daily backups, and what the start page says of them."""

from dataclasses import dataclass
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from qcapp.app import create_app
from qcapp.settings import Settings
from tests.builders import NOW, ROOT, make_cookie, open_client, open_small_store


@dataclass
class Yard:
    client: TestClient
    moments: list


@pytest.fixture
def yard(tmp_path):
    store, _checklist = open_small_store(tmp_path / "yard.db")
    settings = Settings(
        static_dir=ROOT / "static",
        checklists_dir=ROOT / "checklists",
        backup_second_dir=tmp_path / "stick",
    )
    moments = [NOW]
    app = create_app(settings, store, clock=lambda: moments[0])
    app.state.are_backups_daily = True
    return Yard(open_client(app, cookie=make_cookie(store)), moments)


def test_page_tells_what_is_kept_and_makes_one(yard, tmp_path):
    assert "There is no backup yet" in yard.client.get("/yard/backups").text
    assert "No backup has been made for two days" in yard.client.get("/").text
    text = yard.client.post("/yard/backups").text
    assert "it is the only one" in text
    assert "The second place cannot be written" in text.replace("the second", "The second")
    assert "second place for backups cannot be reached" in yard.client.get("/").text
    (tmp_path / "stick").mkdir()
    text = yard.client.post("/yard/backups").text
    assert str(tmp_path / "stick") in text and "cannot be written" not in text
    assert "/yard/backups" not in yard.client.get("/").text
    yard.moments[0] = NOW + timedelta(days=3)
    assert "more than two days ago" in yard.client.get("/yard/backups").text


def test_database_that_is_no_file_is_told_of(yard):
    yard.client.app.state.backups = None
    assert "/guide/postgresql" in yard.client.get("/yard/backups").text
    answer = yard.client.post("/yard/backups")
    assert answer.status_code == 404 and "PostgreSQL" in answer.text
