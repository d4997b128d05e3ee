"""Attacks tried, and what happened. ATTACKS.md beside this names the tests here."""

import gzip
import io
import json
import re
import tracemalloc
import zipfile
import zlib
from datetime import timedelta
from pathlib import Path

import pytest

from qcapp.access import password
from qcapp.inspection.check_character import build_check_character
from qcapp.store import log
from tests.access.test_accounts import WORDS, make_trainer
from tests.builders import NOW, Phone, build_push, make_cookie, open_client, open_yard
from tests.page_text import drop_marks, drop_random, drop_typed
from tests.routes import RULES

pytestmark = pytest.mark.slow

ATTACKS = Path(__file__).with_name("ATTACKS.md")


@pytest.fixture
def yard():
    return open_yard()


@pytest.fixture
def stranger(yard):
    return open_client(yard.client.app)


LESSON = {"held_on": "2026-11-20", "step": "turn-edge", "people": "A01"}


# --- Cross-site request forgery


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        # Two yards under one name are "the same site": SameSite cookies go along, so this must be
        # refused too.
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Sec-Fetch-Site": "none"}, 403),
        ({"Sec-Fetch-Site": "cross-site", "Origin": "http://testserver"}, 403),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "http://testserver.evil.example"}, 403),
        ({"Origin": "https://testserver"}, 403),
        ({"Origin": "http://testserver:8001"}, 403),
        ({}, 403),
        ({"Origin": "http://testserver"}, 303),
        ({"Sec-Fetch-Site": "same-origin"}, 303),
    ],
)
def test_csrf_change_by_cookie_must_come_from_a_page_of_ours(yard, headers, status):
    client = open_client(yard.client.app, cookie=make_cookie(yard.store))
    del client.headers["sec-fetch-site"]
    answer = client.post("/trainer/lessons", data=LESSON, headers=headers, follow_redirects=False)
    assert answer.status_code == status
    with yard.store.reading() as connection:
        assert len(log.list_by_kind(connection, "lesson")) == (status == 303)


def test_phone_whose_token_is_no_longer_good_is_told_to_join_again_not_where_it_came_from(stranger):
    """With a page's headers missing it must not be sent away for good: its records still wait."""
    del stranger.headers["sec-fetch-site"]
    answer = stranger.post(
        "/api/sync/push", json={}, headers={"Authorization": "Bearer " + "A" * 43}
    )
    assert answer.status_code == 401 and "join code" in answer.json()["error"]["todo"]


def test_csrf_of_the_sign_in_is_refused_too(stranger):
    answer = stranger.post(
        "/sign-in", data={"code": "LEAD", "password": "x"}, headers={"Sec-Fetch-Site": "cross-site"}
    )
    assert answer.status_code == 403 and "set-cookie" not in answer.headers


def test_csrf_no_get_changes_anything(yard):
    """Every GET of a signed-in lead leaves the log as it was,
    so SameSite=Lax gives nothing away.
    """
    with yard.store.reading() as connection:
        before = log.get_head(connection)
    for rule in RULES:
        if rule.method == "GET":
            yard.client.get(re.sub(r"{[^}]+}", "A01", rule.path))
    with yard.store.reading() as connection:
        assert log.get_head(connection) == before


# --- Sessions and tokens


def test_session_fixation_a_planted_cookie_is_never_the_session(yard):

    make_trainer(yard)
    victim = open_client(yard.client.app, cookie="planted-by-someone")
    answer = victim.post(
        "/sign-in", data={"code": "T01", "password": WORDS}, follow_redirects=False
    )
    fresh = re.search(r"qcapp=([^;]+)", answer.headers["set-cookie"]).group(1)
    assert fresh != "planted-by-someone"
    assert (
        open_client(yard.client.app, cookie="planted-by-someone").get("/trainer").status_code == 401
    )
    # One who is signed in and signs in again leaves no second key behind.
    again = open_client(yard.client.app, cookie=fresh)
    again.post("/sign-in", data={"code": "T01", "password": WORDS}, follow_redirects=False)
    assert open_client(yard.client.app, cookie=fresh).get("/trainer").status_code == 401


def test_replayed_phone_token_is_refused_after_revoking_and_unsent_work_arrives_after_joining_again(
    yard, stranger
):
    phone = yard.phone
    yard.push(phone.inspect("B1-001"))
    unsent = phone.inspect("B1-002")
    assert yard.client.post(f"/yard/phones/{phone.device_id}/revoke").status_code == 200
    assert "removed 2026" in drop_marks(yard.client.get("/yard").text)
    for method, path in (
        ("POST", "/api/sync/push"),
        ("GET", "/api/sync/pull"),
        ("GET", "/api/sync/reference"),
    ):
        answer = stranger.request(
            method,
            path,
            headers=yard.headers,
            json=build_push([unsent]) if method == "POST" else None,
        )
        assert answer.status_code == 401 and "unsent work is safe" in answer.json()["error"]["todo"]
    old = dict(yard.headers)
    yard.headers = yard.pair(phone.device_id)
    assert [found["outcome"] for found in yard.push(unsent)["results"]] == ["created"]
    assert stranger.get("/api/sync/pull", headers=old).status_code == 401


def test_replayed_cookie_is_refused_after_signing_out(yard):
    cookie = make_cookie(yard.store)
    client = open_client(yard.client.app, cookie=cookie)
    client.post("/sign-out")
    assert open_client(yard.client.app, cookie=cookie).get("/yard").status_code == 401


def test_phone_cannot_use_its_token_as_a_cookie_nor_a_cookie_as_a_token(yard, stranger):
    token, cookie = yard.headers["Authorization"].split()[1], yard.client.cookies["qcapp"]
    assert open_client(yard.client.app, cookie=token).get("/yard").status_code == 401
    assert stranger.get("/yard", headers={"Authorization": f"Bearer {cookie}"}).status_code == 401


def test_join_codes_cannot_be_guessed_for_long(yard, stranger):

    answers = []
    for n in range(25):
        body = f"AAAA2{'23456789ABCDEFGHJKMNPQRSTUVWXYZ'[n]}A"
        code = body + build_check_character(body)
        answers.append(
            stranger.post(
                "/api/devices/enrol", json={"code": code, "device_id": Phone.device_id}
            ).status_code
        )
    assert answers == [400] * 20 + [403] * 5
    yard.client.app.state.clock = lambda: NOW + timedelta(minutes=15)
    assert (
        stranger.post(
            "/api/devices/enrol",
            json={
                "code": "AAAA22A" + build_check_character("AAAA22A"),
                "device_id": Phone.device_id,
            },
        ).status_code
        == 400
    )


# --- Paths, bodies


@pytest.mark.parametrize(
    "path",
    [
        "/static/{build}/../../qcapp.db",
        "/static/{build}/..%2f..%2fpyproject.toml",
        "/static/{build}/%2e%2e/%2e%2e/pyproject.toml",
        "/static/{build}//etc/passwd",
        "/static/../pyproject.toml",
        "/phone/../../pyproject.toml",
        "/static/{build}/phone\\..\\..\\x",
    ],
)
def test_path_traversal_reaches_no_file_outside_the_set(yard, path):
    answer = yard.client.get(path.replace("{build}", yard.client.app.state.shell.build))
    assert "[project]" not in answer.text and "root:" not in answer.text
    assert answer.status_code == 404 or answer.headers["content-type"].startswith("text/html")


def test_gzip_bomb_is_cut_at_the_limit(yard):
    bomb = gzip.compress(b"0" * 200_000_000)
    assert len(bomb) < 262_144
    tracemalloc.start()
    answer = yard.client.post(
        "/api/sync/push", content=bomb, headers={**yard.headers, "Content-Encoding": "gzip"}
    )
    assert answer.status_code == 413
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20_000_000, "it is never inflated whole"


def test_zip_bomb_is_no_format_that_is_taken(yard):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.json", b"0" * 10_000_000)
    for encoding in ({}, {"Content-Encoding": "gzip"}, {"Content-Encoding": "deflate"}):
        answer = yard.client.post(
            "/api/sync/push", content=packed.getvalue(), headers={**yard.headers, **encoding}
        )
        assert answer.status_code == 400
    twice = gzip.compress(gzip.compress(json.dumps(build_push([])).encode()))
    assert (
        yard.client.post(
            "/api/sync/push", content=twice, headers={**yard.headers, "Content-Encoding": "gzip"}
        ).status_code
        == 400
    )


@pytest.fixture(scope="module")
def shared_yard():
    """For requests that are refused before they change anything."""
    return open_yard()


class EndlessBody:
    """The app under a body that never ends and announces no length; taken:
    bytes of it the app asked for.
    """

    PIECE = b"a" * 65_536

    def __init__(self, app):
        self.app, self.taken = app, 0

    async def __call__(self, scope, receive, send):
        async def feed():
            self.taken += len(self.PIECE)
            return {"type": "http.request", "body": self.PIECE, "more_body": True}

        await self.app(scope, feed, send)


@pytest.mark.parametrize(
    "rule", [rule for rule in RULES if rule.is_change], ids=lambda rule: rule.path
)
def test_body_over_the_limit_is_refused_on_every_route(shared_yard, rule):
    path = re.sub(r"{[^}]+}", "A01", rule.path)
    body = EndlessBody(shared_yard.client.app)
    client, headers = (
        open_client(body, cookie=shared_yard.client.cookies["qcapp"]),
        {"Content-Type": "application/x-www-form-urlencoded"},
    )
    if set(rule.roles) <= {"inspector", "buyers_inspector"}:
        headers |= shared_yard.headers
    if rule.path == "/sign-out":
        client.cookies.set("qcapp", make_cookie(shared_yard.store, code="T01"))
    assert (
        client.request(
            rule.method, path, content=b"a" * (rule.max_bytes + 1), headers=headers
        ).status_code
        == 413
    )
    assert body.taken == 0
    headers |= {"Upload-Length": "9", "Upload-Offset": "0", "Transfer-Encoding": "chunked"}
    answer = client.request(rule.method, path, content=iter([b"a"]), headers=headers)
    # Authorised, or nothing would be shown about the route. The laptop's own are open to whoever
    # sits there alone (tests/web/test_laptop.py).
    assert answer.status_code not in (401, 403) or rule.path.startswith("/laptop")
    # A route that reads no body never takes it in, nor does one that asks for its length first;
    # every other stops at its limit.
    assert body.taken <= rule.max_bytes + len(body.PIECE)
    # A form's single field may have 1 MiB at most, which says 400 where the whole may have more.
    assert body.taken == 0 or answer.status_code in (400, 413)


def test_deep_json_and_odd_numbers_are_refused_in_words(yard):
    deep = b"[" * 100_000 + b"]" * 100_000
    for body in (
        deep,
        b'{"protocol": 1e999}',
        b'{"protocol": NaN}',
        b"\xff\xfe",
        b'"' + b"\\ud800" + b'"',
    ):
        answer = yard.client.post("/api/sync/push", content=body, headers=yard.headers)
        assert answer.status_code == 400 and answer.json()["error"]["todo"]


# --- Enumeration


def test_enumeration_by_timing_every_sign_in_hashes_once(yard, stranger, monkeypatch):
    """Counted, not timed: the hashing is nearly all the time there is."""
    count = []
    real = password.HASHER.verify
    monkeypatch.setattr(
        type(password.HASHER),
        "verify",
        lambda self, kept, words: (count.append(1), real(kept, words))[1],
    )
    pages = {
        drop_typed(
            stranger.post("/sign-in", data={"code": code, "password": "wrong words here"}), code
        )
        for code in ("LEAD", "NOBODY", "' OR 1=1 --")
    }
    assert len(count) == 3 and len(pages) == 1


def test_enumeration_of_links_and_phones_answers_the_same_for_all(yard, stranger):
    texts = {
        stranger.get(f"/welcome/{token}").text.replace(token, "")
        for token in ("x" * 43, "y" * 43, "'OR'1'='1")
    }
    assert len(texts) == 1
    answers = {
        stranger.get("/api/sync/pull", headers={"Authorization": f"Bearer {t}"}).text
        for t in ("a", "b" * 43)
    }
    assert len(answers) == 1


# --- What a phone may not pretend


def test_phone_cannot_write_the_trail(yard):
    forged = yard.phone.seal("trail", None, {"action": "sign_in", "about": {}}, stage=None)
    (found,) = yard.push(forged)["results"]
    assert found["outcome"] == "quarantined" and found["reason"]["code"] == "server_only"
    assert "T99" not in drop_random(yard.client.get("/yard/trail"))


def test_phone_hands_in_for_another_but_only_as_its_relay(yard):
    """That it counts by the other's signature alone is test_attacks_signing.py."""
    other = Phone(yard.checklist, device_id="0197f000-0000-7000-8000-0000000000bb")
    assert yard.push(other.inspect("B1-009"))["results"][0]["outcome"] == "created"
    with yard.store.reading() as connection:
        row = log.list_after(connection, 0, 10)[-1]
    assert json.loads(row.raw)["device_id"] == other.device_id


def test_inflating_stops_where_it_should():
    """The check value of the cut itself: one byte more than the limit is told from the limit."""
    packed = gzip.compress(b"0" * 1001)
    inflater = zlib.decompressobj(wbits=31)
    assert len(inflater.decompress(packed, 1000)) == 1000 and inflater.unconsumed_tail


def test_table_lists_every_attack():
    told = ATTACKS.read_text(encoding="utf-8")
    source = "".join(
        path.read_text(encoding="utf-8") for path in Path(__file__).parent.glob("test_attacks*.py")
    )
    names = set(re.findall(r"`(test_\w+)`", told))
    here = set(re.findall(r"^def (test_\w+)", source, re.MULTILINE))
    attacks = {
        name
        for name in here
        if not name.startswith(("test_table", "test_inflating", "test_sign_in_leads"))
    }
    assert attacks <= names, attacks - names
    everywhere = {
        name
        for path in Path(__file__).parents[1].rglob("test_*.py")
        for name in re.findall(r"^def (test_\w+)", path.read_text(encoding="utf-8"), re.MULTILINE)
    }
    assert names <= everywhere, names - everywhere
