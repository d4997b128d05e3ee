"""Accounts: one-time links, signing in and out, sessions that end, the limits on guessing."""

from datetime import timedelta

import pytest
from markupsafe import escape

from qcapp.access import password
from qcapp.access.attempts import MAX_TRIES
from qcapp.access.invites import make_first_link
from qcapp.store.registry import accounts
from qcapp.store.registry.sessions import list_sessions
from tests.builders import NOW, make_cookie, open_client, open_yard
from tests.page_text import drop_typed, text_of

pytestmark = pytest.mark.both_engines

WORDS = "paper kiln seven owls"


class Clock:
    """The server's time, moved by the test."""

    now = NOW

    def __call__(self):
        return self.now

    def advance(self, **step):
        self.now += timedelta(**step)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def yard(clock):
    yard = open_yard()
    yard.client.app.state.clock = clock
    return yard


@pytest.fixture
def stranger(yard):
    return open_client(yard.client.app)


def make_trainer(yard, code="T01", words=WORDS):
    """The whole way: the lead makes a link, its receiver sets the password;
    gives the receiver's browser.
    """
    page = yard.client.post(
        "/yard/accounts", data={"code": code, "name": "Taro", "role": "trainer"}
    )
    link = page.text.split("/welcome/")[1].split("<")[0]
    browser = open_client(yard.client.app)
    answer = browser.post(
        f"/welcome/{link}", data={"password": words, "again": words}, follow_redirects=False
    )
    assert answer.status_code == 303, answer.text
    return browser, link


def sign_in(browser, code="T01", words=WORDS, **more):
    return browser.post(
        "/sign-in", data={"code": code, "password": words, **more}, follow_redirects=False
    )


def test_first_start_makes_one_lead_by_a_link_good_once_for_an_hour(yard, stranger, clock):
    with yard.store.writing() as connection:
        accounts.disable_account(connection, "LEAD", "t")
    early = make_first_link(yard.store, role="yard_lead", now=NOW)
    token = make_first_link(yard.store, role="yard_lead", now=NOW)
    assert stranger.get(f"/welcome/{early}").status_code == 404, (
        "a second start ends the first one's link"
    )
    clock.advance(minutes=59)
    page = stranger.get(f"/welcome/{token}")
    assert page.status_code == 200 and "yard lead" in page.text
    form = {"code": "boss", "name": "Bo", "password": WORDS, "again": WORDS}
    assert (
        stranger.post(f"/welcome/{token}", data={**form, "again": "other words here"}).status_code
        == 400
    )
    assert stranger.post(f"/welcome/{token}", data=form).status_code == 200
    assert (
        stranger.get("/yard/accounts").status_code == 200
        and "BOSS" in stranger.get("/yard/accounts").text
    )
    assert stranger.post(f"/welcome/{token}", data=form).status_code == 404
    assert make_first_link(yard.store, role="yard_lead", now=NOW) is None


def test_refused_account_keeps_what_was_typed_but_the_passwords(yard, stranger):
    with yard.store.writing() as connection:
        accounts.disable_account(connection, "LEAD", "t")
    address = f"/welcome/{make_first_link(yard.store, role='yard_lead', now=NOW)}"
    words = "charcoal stove"
    form = {"code": "BOSS", "name": 'Bo "<b>"', "password": words, "again": words}
    refused = stranger.post(address, data=form)
    assert refused.status_code == 400 and words not in refused.text
    assert 'value="BOSS"' in refused.text
    assert f'value="{escape(form["name"])}"' in refused.text
    assert "Nothing was changed: the password is easy to guess. What to do: leave out" in text_of(
        refused
    )


def test_refused_sign_in_keeps_the_code(stranger):
    refused = sign_in(stranger, code="T9<", words="not these words")
    assert refused.status_code == 403
    assert 'value="T9&lt;"' in refused.text and "not these words" not in refused.text


def test_link_is_too_old_after_its_time(yard, stranger, clock):
    with yard.store.writing() as connection:
        accounts.disable_account(connection, "LEAD", "t")
    token = make_first_link(yard.store, role="yard_lead", now=NOW)
    clock.advance(minutes=60)
    assert stranger.get(f"/welcome/{token}").status_code == 404


def test_trainer_gets_a_link_signs_in_and_out(yard):
    browser, link = make_trainer(yard)
    assert browser.get("/trainer").status_code == 200 and browser.get("/yard").status_code == 403
    assert browser.get(f"/welcome/{link}").status_code == 404
    browser.post("/sign-out")
    assert browser.get("/trainer").status_code == 401
    assert sign_in(browser, "t01").headers["location"] == "/"
    assert browser.get("/trainer").status_code == 200


def test_sign_in_leads_back_to_the_page_asked_for(yard, stranger):
    make_trainer(yard)
    asked = stranger.get("/trainer/steps")
    assert asked.status_code == 401 and 'value="/trainer/steps"' in asked.text
    assert sign_in(stranger, wanted="/trainer/steps").headers["location"] == "/trainer/steps"


def test_cookie_is_closed_to_scripts_and_other_hosts(yard):
    make_trainer(yard)
    plain = sign_in(open_client(yard.client.app)).headers["set-cookie"]
    assert (
        plain.startswith("qcapp=")
        and "HttpOnly" in plain
        and "SameSite=lax" in plain
        and "Secure" not in plain
    )
    tls = sign_in(open_client(yard.client.app, address="https://yard.example")).headers[
        "set-cookie"
    ]
    assert (
        tls.startswith("__Host-qcapp=")
        and "Secure" in tls
        and "Path=/" in tls
        and "Domain" not in tls
    )


@pytest.mark.sqlite_only
def test_only_hashes_of_passwords_and_tokens_are_kept(yard, full_cost):
    browser, link = make_trainer(yard)
    cookie = browser.cookies["qcapp"]
    with yard.store.reading() as connection:
        kept = str(
            [
                list(connection.exec_driver_sql(f"SELECT * FROM {table}"))
                for table in ("account", "session", "invite", "log")
            ]
        )
    assert "$argon2id$v=19$m=65536,t=3,p=4$" in kept
    assert not [secret for secret in (WORDS, cookie, link) if secret in kept]


def test_session_ends_when_unused_when_old_when_ended_and_with_its_account(yard, clock):
    browser, _link = make_trainer(yard)
    clock.advance(days=6)
    assert browser.get("/trainer").status_code == 200
    clock.advance(days=6)
    assert browser.get("/trainer").status_code == 200, "use keeps it"
    clock.advance(days=8)
    assert browser.get("/trainer").status_code == 401, "a week unused ends it"
    sign_in(browser)
    for _ in range(5):
        clock.advance(days=6)
        last = browser.get("/trainer").status_code
    assert last == 401, "30 days end it in any case"
    sign_in(browser)
    lead = open_client(yard.client.app, cookie=make_cookie(yard.store, now=clock.now))
    with yard.store.reading() as connection:
        no = next(
            row.no
            for row in list_sessions(connection, now="", used_after="")
            if row.account == "T01"
        )
    assert lead.post(f"/yard/sessions/{no}/end").status_code == 200
    assert browser.get("/trainer").status_code == 401
    sign_in(browser)
    assert lead.post("/yard/accounts/T01/disable").status_code == 200
    assert browser.get("/trainer").status_code == 401 and sign_in(browser).status_code == 403


def test_last_lead_cannot_be_disabled(yard):
    assert yard.client.post("/yard/accounts/LEAD/disable").status_code == 409
    assert yard.client.get("/yard").status_code == 200


def test_password_change_needs_the_old_one_and_ends_other_sessions(yard):
    browser, _link = make_trainer(yard)
    other = open_client(yard.client.app)
    sign_in(other)
    form = {"old": WORDS, "new": "other kiln nine owls", "again": "other kiln nine owls"}
    assert (
        browser.post("/account/password", data={**form, "old": "wrong words here"}).status_code
        == 403
    )
    assert browser.post("/account/password", data=form).status_code == 200
    assert other.get("/trainer").status_code == 401 and browser.get("/trainer").status_code == 200
    assert (
        sign_in(other).status_code == 403 and sign_in(other, words=form["new"]).status_code == 303
    )


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    "words", ["short", "aaaaaaaaaaaaaaa", "abababababababab", "my T01 password", "x" * 201]
)
def test_weak_password_is_refused_and_the_link_stays_good(yard, words):
    page = yard.client.post(
        "/yard/accounts", data={"code": "T01", "name": "Taro", "role": "trainer"}
    )
    link = page.text.split("/welcome/")[1].split("<")[0]
    browser = open_client(yard.client.app)
    assert browser.post(
        f"/welcome/{link}", data={"password": words, "again": words}
    ).status_code in (400, 422)
    assert browser.get(f"/welcome/{link}").status_code == 200


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    "change",
    [
        {"code": "a b"},
        {"code": "x"},
        {"name": " "},
        {"role": "programme_lead"},
        {"role": "inspector"},
    ],
)
def test_account_that_cannot_be_is_refused(yard, change):
    form = {"code": "T09", "name": "Taro", "role": "trainer", **change}
    assert yard.client.post("/yard/accounts", data=form).status_code == 400
    assert (
        yard.client.post(
            "/yard/accounts", data={**form, "code": "LEAD", "name": "L", "role": "trainer"}
        ).status_code
        == 409
    )


def test_lost_password_is_replaced_by_a_new_link(yard, stranger):
    make_trainer(yard)
    page = yard.client.post("/yard/accounts/T01/link")
    link = page.text.split("/welcome/")[1].split("<")[0]
    assert sign_in(stranger).status_code == 303, "the old one works until the link is used"
    new = "fresh clay nine owls"
    assert (
        open_client(yard.client.app)
        .post(f"/welcome/{link}", data={"password": new, "again": new})
        .status_code
        == 200
    )
    assert (
        stranger.get("/trainer").status_code == 401
        and sign_in(stranger, words=new).status_code == 303
    )


def test_guessing_one_account_is_stopped_for_a_quarter_of_an_hour_even_with_the_right_password(
    yard, stranger, clock, monkeypatch
):
    make_trainer(yard)
    monkeypatch.setattr(
        "qcapp.access.sessions.is_password", lambda words, kept: words == WORDS and kept is not None
    )
    for _ in range(MAX_TRIES["account from address"]):
        assert sign_in(stranger, words="wrong").status_code == 403
    stopped = sign_in(stranger)
    assert stopped.status_code == 429 and int(stopped.headers["retry-after"]) == 900
    # Another server process over the same database knows it too: the counts are not in memory.
    clock.advance(minutes=14)
    assert sign_in(stranger).status_code == 429
    clock.advance(minutes=1)
    assert sign_in(stranger).status_code == 303
    assert sign_in(stranger, words="wrong").status_code == 403, "the right one cleared the count"


def test_guessing_many_accounts_from_one_address_is_stopped(yard, stranger, monkeypatch):
    monkeypatch.setattr("qcapp.access.sessions.is_password", lambda words, kept: False)
    answers = [sign_in(stranger, code=f"C{n}").status_code for n in range(MAX_TRIES["address"] + 1)]
    assert answers == [403] * MAX_TRIES["address"] + [429]


@pytest.mark.slow
@pytest.mark.sqlite_only
def test_unknown_disabled_and_known_account_cost_the_same_and_answer_the_same(
    yard, stranger, full_cost, monkeypatch
):
    make_trainer(yard)
    make_trainer(yard, code="T02")
    yard.client.post("/yard/accounts/T02/disable")
    work = []
    real = password.HASHER.verify
    monkeypatch.setattr(
        type(password.HASHER),
        "verify",
        lambda self, kept, words: (work.append(kept[:31]), real(kept, words))[1],
    )
    codes = ("T01", "T02", "NOBODY")
    answers = [sign_in(stranger, code=code, words="wrong words here") for code in codes]
    assert work == ["$argon2id$v=19$m=65536,t=3,p=4$"] * 3
    pages = {drop_typed(answer, code) for code, answer in zip(codes, answers, strict=True)}
    assert len(pages) == 1 and {answer.status_code for answer in answers} == {403}
