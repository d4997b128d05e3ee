"""Cards by lot: drawn once, given to the first half, opened by a personal link, told when over."""

import io
import re
from datetime import timedelta

import pytest
from pypdf import PdfReader

from qcapp.checklist.model import Checklist
from qcapp.store import log
from qcapp.store.queries.personal_record import build_personal_record, erase_name
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.registry.people import save_people
from qcapp.store.tables import CARD_LINK
from qcapp.usecases.card_lot import find_lot
from tests.builders import (
    NOW,
    PEOPLE,
    Phone,
    build_small_checklist,
    make_cookie,
    open_client,
    open_yard,
)
from tests.page_text import drop_random, text_of

CODES = [f"N{n}" for n in range(1, 9)]
WEEKS = 8
OVER = NOW + timedelta(weeks=WEEKS, hours=1)
POINT = {"do": {"en": "Cut on the line", "fr": "Couper sur le trait"}, "why": {"en": "Air gets in"}}


def own_yard():
    """Eight artisans with names nobody else has, 21 stoves each with a few wide openings; the step
    has a key point.
    """
    yard = open_yard()
    compiled = build_small_checklist(revision=2).compiled()
    compiled["steps"][1]["key_points"] = [POINT]
    yard.checklist = Checklist.from_compiled(compiled)
    with yard.store.writing() as connection:
        publish_checklist(connection, yard.checklist, origin="file", now="2026-11-02T00:00:00.000Z")
        save_people(
            connection, [{**PEOPLE[0], "code": code, "name": f"Name-{code}-x"} for code in CODES]
        )
    yard.phone = Phone(yard.checklist)
    yard.headers = yard.pair(yard.phone.device_id)
    push_stoves(yard, "2026-11-10", wide={code: 3 + n for n, code in enumerate(CODES)})
    return yard


def push_stoves(yard, day, wide, count=21):
    events = [
        yard.phone.inspect(
            f"B1-{day[5:7]}{day[8:]}{place}{n:02}",
            maker=code,
            width="106" if n < wide[code] else "100",
            disposition="rework" if n < wide[code] else "release",
            at=f"{day}T08:00:00.000Z",
        )
        for place, code in enumerate(CODES)
        for n in range(count)
    ]
    for start in range(0, len(events), 100):
        yard.push(*events[start : start + 100])


def draw(yard, weeks=WEEKS):
    return yard.client.post(
        "/trainer/cards/lot", data={"weeks": weeks}, follow_redirects=False
    ).status_code


def read_lot(yard):
    with yard.store.reading() as connection:
        return find_lot(connection)


def give(yard, code, language=""):
    """The address of a fresh link."""
    page = yard.client.post(f"/trainer/cards/{code}/links", data={"language": language})
    assert page.status_code == 200, page.text
    return re.search(r"/c/[\w-]+", page.text)[0]


def go_to(yard, moment):
    """Another moment, at which a lead has just signed in."""
    app = yard.client.app
    app.state.clock = lambda: moment
    yard.client = open_client(app, cookie=make_cookie(yard.store, code="LATER", now=moment))


@pytest.fixture(scope="module")
def yard():
    """With the lot drawn. No test of this module moves its clock or ends its links."""
    made = own_yard()
    assert draw(made) == 303
    return made


@pytest.fixture(scope="module")
def stranger(yard):
    return open_client(yard.client.app)


def test_nobody_sees_a_card_before_the_lot_and_it_is_drawn_once():
    yard = own_yard()
    assert yard.client.get("/trainer/cards/N1").status_code == 409
    assert yard.client.post("/trainer/cards/N1/links", data={}).status_code == 409
    assert draw(yard, weeks=1) == 422
    with yard.store.reading() as connection:
        seed = log.get_head(connection).chain
    assert draw(yard) == 303 and draw(yard) == 409
    with yard.store.reading() as connection:
        (event,) = log.list_by_kind(connection, "card_lot")
    body = event["body"]
    assert (body["seed"], event["inspector"]) == (seed, "LEAD")
    assert (body["since"], body["until"]) == ("2026-11-25", "2027-01-20")
    assert sorted(body["first"] + body["second"]) == CODES and len(body["first"]) == 4
    assert set(map(str, body["aims"].values())) == {
        "{'checklist': 'small-stove', 'step': 'cut-door-opening'}"
    }
    assert "drew by lot who gets a card first" in text_of(yard.client.get("/yard/trail"))


def test_first_half_has_cards_and_the_second_waits_for_its_day(yard):
    lot = read_lot(yard)
    page = text_of(yard.client.get("/trainer/cards"))
    assert "4 artisans have had a card since 2026-11-25; 4 more get theirs on 2027-01-20" in page
    assert yard.client.get(f"/trainer/cards/{lot.first[0]}").status_code == 200
    for address in ("", "/card.pdf"):
        refused = yard.client.get(f"/trainer/cards/{lot.second[0]}{address}")
        assert refused.status_code == 409 and "The lot gives this card later" in refused.text


def test_card_shows_the_step_its_reason_and_own_counts_and_nothing_of_others(yard, stranger):
    code = read_lot(yard).first[0]
    address = give(yard, code)
    page = stranger.get(address)
    words, own = text_of(page), CODES.index(code) + 3
    assert f"Name-{code}-x ({code})" in words
    assert "Work on this step Cut the door opening" in words
    assert "Cut on the line Air gets in" in words
    assert f"Last 30 days {own} of 21 stoves faulty of 100 like these," in words
    assert "Too few to tell a change." in words
    assert "Goes well" not in words, "21 good ones may still be 16 of 100"
    assert "Ask LEAD name." in words
    source = drop_random(page)
    for other in CODES:
        assert (other in source) == (other == code), other
    for word in ("average", "mean ", "rank", "B1-", "Batch", "buyer", "experienced"):
        assert word not in words.partition("A quality pass")[0], word


def test_card_on_paper_is_one_page_a6_with_the_same_words(yard, stranger):
    code = read_lot(yard).first[1]
    own = CODES.index(code) + 3
    for client, address in (
        (stranger, f"{give(yard, code)}/card.pdf"),
        (yard.client, f"/trainer/cards/{code}/card.pdf"),
    ):
        answer = client.get(address)
        (page,) = PdfReader(io.BytesIO(answer.content)).pages
        size = [round(float(side) * 25.4 / 72) for side in page.mediabox[2:]]
        assert size == [105, 148]
        words = " ".join(page.extract_text().split())
        assert f"{own} of 21 stoves faulty" in words and "Cut on the line. Air gets in." in words
        assert [other for other in CODES if other in words] == [code]


def test_language_is_the_links_else_the_browsers_else_as_asked(yard, stranger):
    code = read_lot(yard).first[2]
    french, own = give(yard, code, "fr"), give(yard, code)
    portuguese = {"Accept-Language": "pt"}
    assert 'lang="fr"' in stranger.get(french, headers=portuguese).text
    assert stranger.get(french, headers=portuguese).headers["content-language"] == "fr"
    assert "Couper sur le trait" in stranger.get(french).text
    assert 'lang="pt"' in stranger.get(own, headers=portuguese).text
    asked = open_client(yard.client.app).get(f"{french}?language=en")
    assert '<html lang="en"' in asked.text
    answer = yard.client.post(f"/trainer/cards/{code}/links", data={"language": "xx"})
    assert answer.status_code == 400


@pytest.mark.both_engines
def test_what_the_cards_changed_is_said_on_the_day_and_not_before():
    yard = own_yard()
    draw(yard)
    lot = read_lot(yard)
    wide = {code: 1 if code in lot.first else 15 for code in CODES}
    push_stoves(yard, "2026-12-10", wide, count=30)
    go_to(yard, OVER - timedelta(days=1))
    assert "The lot runs" in text_of(yard.client.get("/trainer/cards"))
    go_to(yard, OVER)
    page = text_of(yard.client.get("/trainer/cards"))
    assert "Yes: with the card fewer pieces were faulty" in page
    change = re.search(r"named: −(\d+)", page)
    assert abs(int(change[1]) - 100 * 14 / 30) < 4
    assert "with the card first 4 " in page and "4 of 120" in page and "60 of 120" in page
    assert yard.client.get(f"/trainer/cards/{lot.second[0]}").status_code == 200


@pytest.mark.both_engines
def test_link_is_listed_ended_and_kept_only_as_a_hash():
    yard = own_yard()
    draw(yard)
    code, stranger = read_lot(yard).first[0], open_client(yard.client.app)
    address = give(yard, code)
    with yard.store.reading() as connection:
        (row,) = connection.execute(CARD_LINK.select()).all()
        record = build_personal_record(connection, code)
    assert address.removeprefix("/c/") not in str(row)
    assert record["links_to_the_card"][0]["artisan"] == code
    listed = yard.client.get("/trainer/cards").text
    assert f"/trainer/cards/{code}/links/{row.no}/end" in listed
    assert stranger.get(address).status_code == 200
    other = next(one for one in CODES if one != code)
    assert yard.client.post(f"/trainer/cards/{other}/links/{row.no}/end").status_code == 404
    assert yard.client.post(f"/trainer/cards/{code}/links/{row.no}/end").status_code == 200
    assert stranger.get(address).status_code == 404
    give(yard, code)
    with yard.store.writing() as connection:
        erase_name(connection, code)
        assert connection.execute(CARD_LINK.select()).all() == []
