"""What the demo has beside inspections, as its people find it on the pages."""

import json
import re
from datetime import timedelta
from io import BytesIO

import pytest
from PIL import Image
from sqlalchemy import text

from qcapp.store import log
from qcapp.store.registry import photos
from qcapp.store.timestamps import format_timestamp, parse_timestamp
from qcapp.usecases.fill_demo import give_to_buyer, prepare_demo
from qcapp.usecases.load_phones import load_phones
from tests.builders import NOW
from tests.page_text import text_of

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def client(demo_yard):
    return demo_yard[0]


def test_every_named_photo_is_there_and_shown(client):
    store = client.app.state.store
    with store.reading() as connection:
        named = {
            photo
            for event in log.list_by_kind(connection, "inspection")
            for photo in event["photos"]
        }
        assert len(named) > 30
        assert photos.list_whole(connection, sorted(named)) == named
    page = client.get("/trainer/artisans/A15?days=all").text
    shown = re.findall(r"/photos/([0-9a-f]{64})", page)
    assert shown and set(shown) <= named
    assert Image.open(BytesIO(client.get(f"/photos/{shown[0]}").content)).format == "JPEG"


def test_second_looks_give_inspectors_figures(client):
    page = text_of(client.get("/trainer/inspectors"))
    looked = int(re.search(r"At (\d+) pieces? another inspector looked again", page)[1])
    assert 10 < looked < 70, "about one in twenty of 622 stoves, liners and loads"
    assert re.search(r"the first look had passed \d+ of the \d+ steps that the second failed", page)
    assert re.search(r"the first look had failed \d+ of the \d+ steps that the second passed", page)


def test_inspectors_are_three(client):
    page = text_of(client.get("/trainer/inspectors"))
    assert all(code in page for code in ("I01", "I02", "I03"))


def test_study_says_how_well_two_inspectors_agree(client):
    studies = client.get("/yard/studies").text
    (address,) = set(re.findall(r'href="(/yard/studies/[0-9a-f-]{36})"', studies))
    page = text_of(client.get(address))
    assert "Do we judge doors and liners alike?" in page
    assert "appa" in page, "kappa"


def test_buyers_question_is_on_the_batch_and_behind_the_link(client):
    store, settings = client.app.state.store, client.app.state.settings
    asked = "What will you change before the next one?"
    assert asked in text_of(client.get("/batches/B5"))
    assert asked in text_of(client.get(f"/s/{give_to_buyer(store, settings, NOW)}"))


def test_every_batch_is_drawn_or_named_as_alone(client):
    page = client.get("/trainer/batches").text
    drawn = set(re.findall(r"\b(B\d): \d+ of \d+", page))
    alone = set(re.findall(r"one batch only: (B\d)", page))
    assert alone == {"B3", "B5"}, "the small stoves, and the stages before the liner's"
    assert drawn | alone == {f"B{n}" for n in range(1, 7)}


def test_one_phone_is_silent_and_still_has_records(client):
    silent = [
        phone
        for phone in load_phones(client.app.state.store).phones
        if parse_timestamp(phone.last_seen_at) < NOW - timedelta(days=14)
    ]
    assert [(phone.name, phone.unsent, phone.loss) for phone in silent] == [("Phone 3", 2, None)]


def test_one_record_is_held_back_and_counts_for_nothing(client):
    page = text_of(client.get("/yard/quarantine"))
    assert "B7-001" in page
    assert client.get("/batches/B7").status_code == 404


def test_log_is_in_order_of_time(client):
    with client.app.state.store.reading() as connection:
        received = list(
            connection.execute(text("SELECT received_at FROM log ORDER BY seq")).scalars()
        )
    assert received == sorted(received) and received[-1] <= format_timestamp(NOW)


def test_filling_again_after_an_interruption_adds_nothing(client):
    store, settings = client.app.state.store, client.app.state.settings
    with store.reading() as connection:
        before = log.get_head(connection)
    with store.writing() as connection:
        connection.execute(text("DELETE FROM meta WHERE key = 'demo_filled'"))
    prepare_demo(settings, fresh=False, now=NOW)
    with store.reading() as connection:
        assert log.get_head(connection) == before


def test_buyers_summary_holds_all_that_the_batch_has(client):
    store = client.app.state.store
    with store.reading() as connection:
        rows = log.list_after(connection, 0, None)
    told = {}
    for row in rows:
        event = json.loads(row.raw)
        if event["kind"] == "summary":
            told[event["batch"]] = row.seq
    assert told
    later = [
        (row.seq, event["kind"], event["stove"])
        for row in rows
        if (event := json.loads(row.raw))["stove"] and row.seq > told.get(event["batch"], row.seq)
    ]
    assert later == []


def test_lot_runs_cards_are_given_and_skills_are_set(client):
    page = text_of(client.get("/trainer/cards"))
    assert "The lot runs." in page and page.count("drawn later") >= 4
    code = re.search(r"/trainer/cards/(A08|A1[56]|A0[56])\"", client.get("/trainer/cards").text)[1]
    card = client.get(f"/trainer/cards/{code}").text
    assert 'class="own-picture"><svg' in card and 'class="key-points"' in card
    assert "Work on this step" in card and "Last 30 days" in card
    sheet = text_of(client.get("/trainer/skills"))
    assert "Pierce the grate : Wemba Torrisal with Lusin Kedarro, Amerith Zolu" in sheet
