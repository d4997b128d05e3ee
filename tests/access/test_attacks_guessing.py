"""Attacks by guessing: who guesses is stopped, and whose account it is gets in."""

import asyncio
from datetime import timedelta

import pytest
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from qcapp.access.attempts import MAX_TRIES
from qcapp.access.easy_password import LOOKED_AT
from qcapp.access.password import check_new_password
from qcapp.access.secret import make_token
from qcapp.access.source import read_source
from qcapp.access.trusted_browser import MOST
from qcapp.cli.serve import describe_listening
from qcapp.errors import BadInput
from qcapp.inspection.check_character import build_check_character
from qcapp.sync.restore_marker import note_restore
from qcapp.usecases.manage_accounts import invite_from_terminal
from tests.access.test_accounts import WORDS, make_trainer, sign_in
from tests.builders import NOW, open_client, open_yard

pytestmark = pytest.mark.slow

OTHER_WORDS = "nine wet clay owls"


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
    # What it tries after it was stopped does not count for anybody else.
    assert guess(yard, 2 * MAX_TRIES["account"], ["192.0.2.1"]) == 429
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
    for _ in range(MAX_TRIES["browser"] + MAX_TRIES["account from address"]):
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


def make_join_code():
    """A code as they are drawn, and no phone's."""
    return "AAAAAAA" + build_check_character("AAAAAAA")


def join_from(yard, address):
    form = {"code": make_join_code(), "device_id": "0197f000-0000-7000-8000-000000000199"}
    return come_from(yard, address).post("/api/devices/enrol", json=form).json()["error"]["what"]


def test_one_host_keeps_no_phone_of_the_yard_from_joining(yard):
    addresses = [f"2001:db8::{n:x}" for n in range(2 * MAX_TRIES["join address"])]
    said = [join_from(yard, address) for address in addresses]
    assert said[MAX_TRIES["join address"] :] == ["too many wrong codes"] * 20, "one network"
    assert count_rows(yard, "attempt") == 3, "the trainer's link of the fixture is none of them"
    for _ in range(3):
        join_from(yard, "192.0.2.1")
    with yard.store.reading() as connection:
        counts = dict(
            connection.exec_driver_sql("SELECT substr(key, 1, 5), count FROM attempt").all()
        )
    assert counts["join:"] == MAX_TRIES["join address"] + 3, "refused tries take nothing from all"


def count_rows(yard, table):
    with yard.store.reading() as connection:
        return connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar()


def test_guessing_leaves_few_rows_however_many_codes_a_stopped_source_names(yard):
    before = count_rows(yard, "attempt")
    guesser = come_from(yard, "192.0.2.1")
    for n in range(3 * MAX_TRIES["address"]):
        sign_in(guesser, code=f"X{n}", words="wrong")
    # Of each code that was tried one of the account and one of it from there; one of the address.
    assert count_rows(yard, "attempt") - before == 2 * MAX_TRIES["address"] + 1
    yard.client.app.state.clock = lambda: NOW + timedelta(minutes=16)
    sign_in(guesser, words="wrong")
    assert count_rows(yard, "attempt") == 3


def test_the_trail_says_once_a_stretch_that_guesses_were_stopped(yard):
    before = count_rows(yard, "log")
    guess(yard, 12 * len(MANY), MANY)
    assert count_rows(yard, "log") - before == 1
    sign_in(come_from(yard, "192.0.2.1"), code="NOBODY", words="wrong")
    assert count_rows(yard, "log") - before == 1
    yard.client.app.state.clock = lambda: NOW + timedelta(minutes=16)
    guess(yard, 12 * len(MANY), MANY)
    assert count_rows(yard, "log") - before == 2


def test_refused_try_costs_the_same_whether_the_account_is_there_or_not(yard, monkeypatch):
    guess(yard, MAX_TRIES["account from address"] + 2, ["192.0.2.1"])
    guesser = come_from(yard, "192.0.2.1")
    for _ in range(MAX_TRIES["address"]):
        sign_in(guesser, code="NOBODY", words="wrong")
    done = []
    for kind in ("reading", "writing"):
        begin = getattr(yard.store, kind)
        noted = lambda *args, begin=begin, kind=kind: done.append(kind) or begin(*args)  # noqa: E731
        monkeypatch.setattr(yard.store, kind, noted)
    costs = []
    for code in ("T01", "NOBODY"):
        done.clear()
        assert sign_in(guesser, code=code, words="wrong").status_code == 429
        costs.append(list(done))
    assert costs[0] == costs[1] and costs[0].count("writing") == 1


def test_owner_who_mistypes_nine_times_comes_in(yard):
    owner = come_from(yard, "198.51.100.7")
    for _ in range(MAX_TRIES["account from address"] - 1):
        assert sign_in(owner, words="wrong").status_code == 403
    assert sign_in(owner).status_code == 303


def test_a_clock_that_was_set_back_keeps_nobody_waiting(yard):
    yard.client.app.state.clock = lambda: NOW + timedelta(days=400)
    assert guess(yard, 2 * MAX_TRIES["account"], MANY) == 429
    yard.client.app.state.clock = lambda: NOW + timedelta(hours=1)
    assert sign_in(come_from(yard, "198.51.100.7")).status_code == 303
    assert guess(yard, 2 * MAX_TRIES["account"], MANY) == 429, "the limits hold after it"


def test_stolen_mark_of_a_known_browser_does_not_keep_its_owner_out(yard):
    owner = come_from(yard, "198.51.100.7")
    sign_in(owner)
    thief = come_from(yard, "192.0.2.1")
    thief.cookies.update({"qcapp-browser": owner.cookies["qcapp-browser"]})
    for _ in range(MAX_TRIES["browser"] + MAX_TRIES["account from address"]):
        assert sign_in(thief, words="wrong").status_code == 403
    assert sign_in(thief, words="wrong").status_code == 429
    assert sign_in(owner).status_code == 303


def test_mark_that_a_stranger_planted_never_becomes_a_known_browsers(yard):
    planted = "p" * len(make_token())
    owner = come_from(yard, "198.51.100.7")
    owner.headers["Cookie"] = f"qcapp-browser={planted}"
    answer = sign_in(owner)
    assert answer.status_code == 303
    assert planted not in answer.headers["set-cookie"]
    assert guess(yard, 2 * MAX_TRIES["account"], MANY) == 429
    stranger = come_from(yard, "192.0.2.99")
    stranger.headers["Cookie"] = f"qcapp-browser={planted}"
    assert sign_in(stranger).status_code == 429


def test_colleagues_at_one_browser_are_both_known_in_it(yard):
    make_trainer(yard, code="T02")
    shared = come_from(yard, "198.51.100.7")
    assert sign_in(shared).status_code == 303
    assert sign_in(shared, code="T02").status_code == 303
    assert guess(yard, 2 * MAX_TRIES["account"], MANY) == 429
    assert sign_in(shared).status_code == 303


def test_a_whole_office_signs_in_behind_one_router(yard):
    for _ in range(MAX_TRIES["address"] + MAX_TRIES["account"]):
        assert sign_in(come_from(yard, "198.51.100.7")).status_code == 303
    assert guess(yard, MAX_TRIES["account from address"] + 1, ["198.51.100.7"]) == 429


@pytest.mark.parametrize("way", ["another link", "the own password"])
def test_no_older_link_sets_the_password_once_more(yard, way):
    old = make_link(yard)
    form = {"password": OTHER_WORDS, "again": OTHER_WORDS, "name": "Taro"}
    if way == "another link":
        newer = invite_from_terminal(yard.store, code="T01", role="trainer", now=NOW)
        done = yard.client.post(f"/welcome/{newer}", data=form, follow_redirects=False)
    else:
        owner = come_from(yard, "198.51.100.7")
        sign_in(owner)
        form = {"old": WORDS, "new": OTHER_WORDS, "again": OTHER_WORDS}
        done = owner.post("/account/password", data=form, follow_redirects=False)
    assert done.status_code == 303
    form = {"password": WORDS, "again": WORDS}
    assert come_from(yard, "192.0.2.1").post(f"/welcome/{old}", data=form).status_code == 404


def make_link(yard):
    return yard.client.post("/yard/accounts/T01/link").text.split("/welcome/")[1].split("<")[0]


def test_after_a_restore_no_session_and_no_link_that_was_ended_is_good(yard):
    stolen = come_from(yard, "192.0.2.1")
    sign_in(stolen)
    link = make_link(yard)
    # As a backup of that moment is put back after both were ended.
    note_restore(yard.store, by="terminal", now=NOW)
    assert stolen.get("/account", follow_redirects=False).status_code == 401
    assert stolen.get(f"/welcome/{link}").status_code == 404
    assert sign_in(stolen).status_code == 303


def test_many_addresses_get_an_accounts_limit_of_guesses_in_each_quarter_of_an_hour(yard):
    looked_at = [guess_for_a_quarter(yard, n) for n in range(8)]
    assert looked_at == [MAX_TRIES["account"]] * 8, "40,320 in a week"
    assert count_rows(yard, "attempt") <= 1 + 2 * len(MANY) + 1


def guess_for_a_quarter(yard, quarter):
    """How many of its guesses were looked at."""
    yard.client.app.state.clock = lambda: NOW + timedelta(minutes=16 * quarter)
    made = 0
    for n in range(MAX_TRIES["account"] + 5):
        guesser = come_from(yard, MANY[n % len(MANY)])
        made += sign_in(guesser, words="wrong").status_code == 403
    return made


EASY = (
    *("123456789012", "password1234", "passwordpassword", "qwertyuiop12", "motdepasse12"),
    *("senhasenhasenha1", "administrator", "azertyuiop12", "stovestovestove", "T01T01T01T01"),
    *("987654321098", "abcabcabcabc", "Pass word 2026!", "Fogão Fogão 1", "aaaaaaaaaaaa"),
    *("Charcoal Stove", "fogareiro1234", "palavra-passe", "iloveyou2026", "P@ssw0rd2026"),
)
GOOD = (
    *("paper kiln seven owls", "chuva vento barro", "la poule mange du mil", "kX9#vPq2Lm7z"),
    *("the yard lead sleeps late", "my password is mango", "o meu gato come pão", "§%{?~+)/=}^;"),
    *("horse green table", "milk dog water", "river stone lantern"),
)


def test_password_that_a_guesser_tries_first_is_not_taken(yard):
    for words in EASY:
        with pytest.raises(BadInput, match="easy to guess"):
            check_new_password(words, words, "T01")
    for words in GOOD:
        check_new_password(words, words, "T01")


def test_a_long_password_is_not_estimated_for_seconds(monkeypatch):
    """Two hundred random characters took seventeen seconds."""
    lengths = []
    monkeypatch.setattr(
        "zxcvbn.zxcvbn", lambda text, **_: lengths.append(len(text)) or {"guesses": 10**12}
    )
    check_new_password("k9" * 100, "k9" * 100, "T01")
    assert lengths == [LOOKED_AT], "letters alone: one estimate"


def test_a_caller_cannot_make_up_an_address(yard):
    seen = []

    async def app(scope, receive, send):
        seen.append(scope["client"][0])

    believed = describe_listening("203.0.113.9")["forwarded_allow_ips"]
    server = ProxyHeadersMiddleware(app, believed)
    for came_from, said, address in (
        ("192.0.2.1", "198.51.100.7", "192.0.2.1"),
        ("203.0.113.9", "198.51.100.7, 192.0.2.1", "192.0.2.1"),
        ("127.0.0.1", "127.0.0.1, 192.0.2.1", "192.0.2.1"),
    ):
        headers = [(b"x-forwarded-for", said.encode()), (b"forwarded", b"for=198.51.100.7")]
        scope = {"type": "http", "client": (came_from, 1), "scheme": "http", "headers": headers}
        asyncio.run(server(scope, None, None))
        assert seen[-1] == address


def test_an_ipv4_caller_is_one_source_however_the_address_is_written(yard):
    assert read_source("::ffff:192.0.2.1") == read_source("192.0.2.1")
    assert read_source("::ffff:192.0.2.1") != read_source("::ffff:198.51.100.7")
    assert read_source("2002:c000:201:7::1") == read_source("2002:c000:201:8::1") == "192.0.2.1"
    assert read_source("fe80::1%eth0") == read_source("fe80::2")
    assert read_source("unknown") == "unknown"
    many = [f"::ffff:192.0.2.{n}" for n in range(1, 5)]
    guess(yard, 4 * MAX_TRIES["account from address"], many)
    assert sign_in(come_from(yard, "::ffff:198.51.100.7")).status_code == 303


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
