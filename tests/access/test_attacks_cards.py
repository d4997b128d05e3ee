"""Attacks on the artisans' links: what opens one card opens nothing else, and an ended one none."""

import re
from datetime import timedelta

import pytest

from qcapp.access.links import LONGEST_TOKEN
from qcapp.store import log
from qcapp.store.queries.lesson_queries import list_parts_of_step
from qcapp.store.registry.people import save_people
from qcapp.usecases.keep_lesson_parts import add_picture
from tests.builders import NOW, PEOPLE, make_cookie, open_client
from tests.page_text import drop_marks
from tests.web.test_cards import CODES, draw, give, go_to, own_yard, read_lot
from tests.web.test_lesson_parts import SVG


@pytest.fixture(scope="module")
def yard():
    made = own_yard()
    draw(made)
    return made


@pytest.fixture(scope="module")
def stranger(yard):
    return open_client(yard.client.app)


def refusal(client, address):
    """What a link that opens nothing is answered, without the address itself."""
    answer = client.get(address)
    text = re.sub(r"printed [\d: -]+ UTC", "", drop_marks(answer.text))
    # Of a short one it would take away more than itself.
    token = address.split("/")[2]
    return answer.status_code, text.replace(token, "") if len(token) > 2 else text


@pytest.fixture(scope="module")
def unknown(stranger):
    found = refusal(stranger, f"/c/{'x' * 43}")
    assert found[0] == 404 and "ask the yard for a new one" in found[1].lower()
    return found


@pytest.mark.parametrize(
    "token",
    [
        "y" * 43,
        "N1",
        "1",
        "%27OR%271%27%3D%271",
        "%00",
        "é" * 20,
        "x" * (LONGEST_TOKEN + 1),
        "x" * 5000,
    ],
)
def test_guessed_link_is_answered_as_any_other_that_opens_nothing(stranger, unknown, token):
    assert refusal(stranger, f"/c/{token}") == unknown
    assert stranger.get(f"/c/{token}/card.pdf").status_code == 404


def test_link_opens_one_card_whatever_is_added_to_its_address(yard, stranger):
    code = read_lot(yard).first[0]
    address = give(yard, code)
    for other in CODES:
        for query in (f"?code={other}", f"?artisan={other}", f"?no={CODES.index(other)}"):
            page = stranger.get(f"{address}{query}").text
            assert re.findall(r"Name-(N\d)-x", page.partition("<main")[2])[0] == code
    for path in (f"/{CODES[-1]}", "/../N2", "/links", "/%2e%2e/N2", "/card.pdf/x"):
        assert stranger.get(f"{address}{path}").status_code in (401, 404)


def test_card_brings_the_lesson_of_its_own_step_and_of_no_other(yard, stranger):
    for step, caption in (("cut-door-opening", "Inside the line"), ("turn-edge", "Round off")):
        drawing = SVG.replace(b"M1 1", b"M1 %d" % len(caption))
        add_picture(yard.store, step, drawing, caption, by="LEAD", now=NOW)
    with yard.store.reading() as connection:
        (foreign,) = list_parts_of_step(connection, "turn-edge")
    address = give(yard, read_lot(yard).first[0])
    page = stranger.get(address).text
    assert "Inside the line" in page and "Round off" not in page
    (own,) = re.findall(rf'src="({address}/lesson/[^"]+)"', page)
    answer = stranger.get(own)
    assert answer.status_code == 200 and answer.headers["content-type"] == "image/svg+xml"
    assert answer.headers["cache-control"] == "no-store"
    name = own.rpartition("/")[2]
    assert name != foreign.sha256
    assert stranger.get(f"{address}/lesson/{foreign.sha256}").status_code == 404
    assert stranger.get(f"/c/{'y' * 43}/lesson/{name}").status_code == 404
    assert stranger.get(f"/lesson-media/{name}").status_code == 401


def test_holder_of_a_link_gets_nothing_that_is_the_yards(yard, stranger):
    give(yard, read_lot(yard).first[0])
    for path in ("/trainer/cards", "/trainer/cards/N1", "/trainer/skills", "/trainer/skills.pdf"):
        assert stranger.get(path).status_code == 401, path
    for path, data in (
        ("/trainer/cards/N1/links", {}),
        ("/trainer/cards/lot", {"weeks": 8}),
        ("/trainer/cards/switch", {"to": "off"}),
        ("/trainer/skills", {"set": "N1 cut-door-opening teaches"}),
    ):
        assert stranger.post(path, data=data).status_code == 401, path


def test_card_and_its_refusal_are_kept_by_no_cache_index_or_next_site(yard, stranger):
    address = give(yard, read_lot(yard).first[0])
    for path in (address, f"{address}/card.pdf", "/c/nothing"):
        headers = stranger.get(path).headers
        assert headers["cache-control"] == "no-store", path
        assert headers["referrer-policy"] == "no-referrer", path
        assert headers["x-robots-tag"] == "noindex", path
        assert headers["x-frame-options"] == "DENY", path
    page = stranger.get(address).text
    assert not re.findall(r'(?:src|href)="https?://', page)
    assert not re.findall(r'href="/(?!c/|static/|guide)', page.replace('href="/"', ""))


def test_what_keeps_a_card_back_does_not_show(unknown):
    """Ended, too old, switched off, gone from the yard, not yet given: one answer for all."""
    yard = own_yard()
    draw(yard)
    stranger, lot = open_client(yard.client.app), read_lot(yard)
    ended, old, waiting = (give(yard, lot.first[n]) for n in range(3))
    yard.client.post(f"/trainer/cards/{lot.first[0]}/links/1/end")
    assert refusal(stranger, ended) == unknown
    go_to(yard, NOW + timedelta(days=91))
    assert refusal(stranger, old) == unknown
    go_to(yard, NOW)
    assert stranger.get(old).status_code == 200
    yard.client.post("/trainer/cards/switch", data={"to": "off"})
    assert [refusal(stranger, one) for one in (ended, old, waiting)] == [unknown] * 3
    assert yard.client.get(f"/trainer/cards/{lot.first[1]}").status_code == 409
    yard.client.post("/trainer/cards/switch", data={"to": "on"})
    assert stranger.get(waiting).status_code == 200
    gone = {**PEOPLE[0], "code": lot.first[2], "name": "Gone", "has_left": True}
    with yard.store.writing() as connection:
        save_people(connection, [gone])
    assert refusal(stranger, waiting) == unknown
    go_to(yard, NOW - timedelta(days=1))
    assert refusal(stranger, old) == unknown, "before its day"


def test_a_trainer_gives_and_ends_cards_but_does_not_switch_them(yard):
    trainer = open_client(
        yard.client.app, cookie=make_cookie(yard.store, code="T9", role="trainer")
    )
    code = read_lot(yard).first[1]
    assert trainer.post(f"/trainer/cards/{code}/links", data={}).status_code == 200
    assert trainer.post("/trainer/cards/switch", data={"to": "off"}).status_code == 403
    assert "Switch all cards off" not in trainer.get("/trainer/cards").text


def test_phone_cannot_draw_a_lot_or_set_a_skill(yard):
    lot = {"seed": "x", "first": ["A01"], "second": [], "since": "2026-11-25"}
    bodies = {
        "card_lot": {
            **lot,
            "until": "2026-11-25",
            "aims": {"A01": {"checklist": "a", "step": "b"}},
        },
        "skill": {"artisan": "A01", "step": "cut-door-opening", "level": "teaches"},
    }
    for kind, body in bodies.items():
        forged = yard.phone.seal(kind, None, body, stage=None)
        (found,) = yard.push(forged)["results"]
        assert found["outcome"] == "quarantined" and found["reason"]["code"] == "server_only"


def test_no_phone_gets_the_lot_or_a_skill(yard):
    yard.client.post("/trainer/skills", data={"set": "N1 cut-door-opening teaches"})
    with yard.store.reading() as connection:
        assert log.list_by_kind(connection, "skill") and log.list_by_kind(connection, "card_lot")
    other = yard.pair("0197f000-0000-7000-8000-0000000000cc")
    cursor, kinds, more = "", set(), True
    while more:
        pulled = yard.client.get("/api/sync/pull", params={"cursor": cursor}, headers=other).json()
        kinds |= {one["event"]["kind"] for one in pulled["events"]}
        cursor, more = pulled["cursor"], pulled["more"]
    assert "inspection" in kinds and not kinds & {"skill", "card_lot"}
