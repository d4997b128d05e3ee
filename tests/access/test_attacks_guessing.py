"""Attacks by guessing: who guesses is stopped, and whose account it is gets in."""

from datetime import timedelta

import pytest

from qcapp.access.attempts import MAX_TRIES
from qcapp.access.trusted_browser import MOST, read_source
from qcapp.inspection.check_character import build_check_character
from tests.access.test_accounts import WORDS, make_trainer, sign_in
from tests.builders import NOW, open_client, open_yard

pytestmark = pytest.mark.slow


@pytest.fixture
def yard(monkeypatch):
    made = open_yard()
    make_trainer(made)
    monkeypatch.setattr(
        "qcapp.access.sessions.is_password", lambda words, kept: words == WORDS and kept is not None
    )
    return made


def come_from(yard, address):
    """A browser at this address that was never here."""
    client = open_client(yard.client.app)
    client._transport.client = (address, 50_000)
    return client


def guess(yard, tries, addresses):
    """Wrong guesses for T01, in turn from these addresses; gives the last answer's status."""
    guessers = [come_from(yard, address) for address in addresses]
    status = 0
    for n in range(tries):
        status = sign_in(guessers[n % len(guessers)], words="wrong").status_code
    return status


MANY = [f"192.0.2.{n}" for n in range(1, 41)]


def test_owner_gets_in_from_a_browser_known_before_however_many_guess(yard):
    owner = come_from(yard, "198.51.100.7")
    assert sign_in(owner).status_code == 303
    owner.post("/sign-out", follow_redirects=False)
    assert guess(yard, 10 * MAX_TRIES["account"], MANY) == 429
    assert sign_in(owner).status_code == 303, "known by its cookie after signing out"
    assert sign_in(come_from(yard, "198.51.100.8")).status_code == 429, "a new browser waits"
    # The owner's coming gives the strangers no new tries.
    assert guess(yard, 1, ["192.0.2.99"]) == 429


def test_one_source_keeps_nobody_out_not_even_of_a_new_browser(yard):
    assert guess(yard, 40, ["192.0.2.1"]) == 429
    assert sign_in(come_from(yard, "198.51.100.7")).status_code == 303
    assert sign_in(come_from(yard, "192.0.2.1")).status_code == 429


def test_guesser_behind_the_owners_own_router_does_not_keep_the_owner_out(yard):
    owner = come_from(yard, "192.0.2.1")
    assert sign_in(owner).status_code == 303
    assert guess(yard, 2 * MAX_TRIES["address"], ["192.0.2.1"]) == 429
    assert sign_in(owner).status_code == 303


def test_known_browser_may_not_guess_on_and_its_cookie_is_good_for_its_account_alone(yard):
    make_trainer(yard, code="T02")
    thief = come_from(yard, "192.0.2.1")
    assert sign_in(thief, code="T02").status_code == 303
    for _ in range(MAX_TRIES["account from address"]):
        assert sign_in(thief, words="wrong").status_code == 403
    assert sign_in(thief, words="wrong").status_code == 429, "for T01 it is a stranger"
    for _ in range(MAX_TRIES["browser"]):
        assert sign_in(thief, code="T02", words="wrong").status_code == 403
    assert sign_in(thief, code="T02").status_code == 429
    yard.client.app.state.clock = lambda: NOW + timedelta(minutes=15)
    assert sign_in(thief, code="T02").status_code == 303


def test_cookie_made_up_or_too_old_makes_no_known_browser(yard):
    owner = come_from(yard, "198.51.100.7")
    sign_in(owner)
    token = owner.cookies["qcapp-browser"]
    assert guess(yard, 2 * MAX_TRIES["account"], MANY) == 429
    for made_up in ("x" * len(token), "", "short", token[:-1] + "~"):
        stranger = come_from(yard, "198.51.100.9")
        stranger.headers["Cookie"] = f"qcapp-browser={made_up}"
        assert sign_in(stranger).status_code == 429
    yard.client.app.state.clock = lambda: NOW + timedelta(days=181)
    assert guess(yard, 2 * MAX_TRIES["account"], MANY) == 429
    assert sign_in(owner).status_code == 429


def test_password_can_be_reset_while_strangers_guess_and_then_old_browsers_are_strangers(yard):
    old = come_from(yard, "198.51.100.6")
    sign_in(old)
    assert guess(yard, 2 * MAX_TRIES["account"], MANY) == 429
    page = yard.client.post("/yard/accounts/T01/link").text
    link = page.split("/welcome/")[1].split("<")[0]
    owner = come_from(yard, "198.51.100.7")
    form = {"password": WORDS, "again": WORDS}
    assert owner.post(f"/welcome/{link}", data=form, follow_redirects=False).status_code == 303
    assert owner.get("/account").status_code == 200
    owner.post("/sign-out", follow_redirects=False)
    assert sign_in(owner).status_code == 303
    assert sign_in(old).status_code == 429


def test_own_password_can_be_changed_while_strangers_guess(yard):
    owner = come_from(yard, "198.51.100.7")
    sign_in(owner)
    assert guess(yard, 2 * MAX_TRIES["account"], MANY) == 429
    form = {"old": "wrong", "new": "nine wet clay owls", "again": "nine wet clay owls"}
    for _ in range(MAX_TRIES["session"]):
        assert owner.post("/account/password", data=form).status_code == 403
    assert owner.post("/account/password", data=form).status_code == 429
    fresh = come_from(yard, "198.51.100.7")
    fresh.cookies.update({"qcapp-browser": owner.cookies["qcapp-browser"]})
    assert sign_in(fresh).status_code == 303
    form["old"] = WORDS
    assert fresh.post("/account/password", data=form, follow_redirects=False).status_code == 303


def test_phones_of_a_whole_yard_join_behind_one_router_and_wrong_codes_stay_counted(yard):
    device = "0197f000-0000-7000-8000-0000000001{:02x}"
    for n in range(MAX_TRIES["join address"] + 15):
        yard.pair(device.format(n))
    wrong = {"code": "AAAA" + "AAA", "device_id": device.format(99)}
    wrong["code"] += build_check_character(wrong["code"])
    codes = [
        yard.client.post("/api/devices/enrol", json=wrong).status_code
        for _ in range(MAX_TRIES["join address"] + 1)
    ]
    assert codes == [400] * MAX_TRIES["join address"] + [403]


def test_a_network_of_ipv6_is_one_source(yard):
    assert read_source("2001:db8:1:2:3:4:5:6") == read_source("2001:db8:1:2::9")
    assert read_source("2001:db8:1:3::9") != read_source("2001:db8:1:2::9")
    assert read_source("192.0.2.1") != read_source("192.0.2.2")
    wide = [f"2001:db8::{n:x}" for n in range(1, 60)]
    assert guess(yard, MAX_TRIES["account from address"] + 1, wide) == 429
    assert sign_in(come_from(yard, "2001:db8:0:1::1")).status_code == 303


def test_known_browsers_of_an_account_are_few(yard):
    for n in range(MOST + 5):
        assert sign_in(come_from(yard, f"198.51.100.{n}")).status_code == 303
    with yard.store.reading() as connection:
        query = "SELECT count(*) FROM trusted_browser WHERE account = 'T01'"
        assert connection.exec_driver_sql(query).scalar() == MOST
