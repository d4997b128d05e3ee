"""Headers, logs and errors: nothing foreign runs, nothing personal is written,
no trace reaches a caller.
"""

import asyncio
import io
import json
import logging
import re

import pytest
from sqlalchemy import insert

from qcapp.app import create_app
from qcapp.errors import StartError
from qcapp.store.tables import META
from qcapp.web.middleware.private_headers import PREFIXES
from qcapp.web.middleware.request_log import JsonLines, log
from qcapp.web.middleware.security_headers import (
    APP_POLICY,
    LIVE_POLICY,
    PAGE_POLICY,
    PRINT_POLICY,
)
from qcapp.web.rooms import list_routes
from tests.access.test_roles import fill
from tests.builders import NOW, ROOT, make_cookie, open_client, open_yard
from tests.routes import RULES
from tests.sync.simulation.call import Call
from tests.sync.simulation.yard import ask

INLINE = re.compile(
    r"<script(?![^>]*\bsrc=)|<style|\sstyle\s*=|\son[a-z]+\s*=|javascript:|<base|<iframe|<object|<embed",
    re.IGNORECASE,
)
# They run a script of this server; no other page runs any.
# The step's own page of a step that is not there is an error, which prints by the browser alone.
PRINTED_PAGES = ("/trainer", "/yard/checklists/{checklist_id}/drawing")
LIVE_PAGES = ("/yard/checklist-text",)


@pytest.fixture(scope="module")
def yard():
    yard = open_yard()
    yard.push(
        yard.phone.inspect("B1-001", dents="fail", disposition="concession"),
        yard.phone.inspect("B1-002", width="106", disposition="rework"),
    )
    yard.client.post("/yard/join-codes", data={"name": "Phone 9"})
    return yard


@pytest.mark.parametrize(
    "rule", [rule for rule in RULES if rule.method == "GET"], ids=lambda rule: rule.path
)
@pytest.mark.parametrize("who", ["lead", "stranger", "phone"])
def test_every_answer_is_closed_to_foreign_code_frames_and_guessing(yard, rule, who):
    client = yard.client if who == "lead" else open_client(yard.client.app)
    path = fill(rule.path).replace("/batches/A01", "/batches/B1")
    answer = client.get(path, headers=yard.headers if who == "phone" else {})
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'") and "unsafe" not in policy and "*" not in policy
    if not path.startswith("/photos/"):
        assert "frame-ancestors 'none'" in policy and "base-uri 'none'" in policy
    is_live = who == "lead" and rule.path in LIVE_PAGES
    is_printed = who == "lead" and rule.path in PRINTED_PAGES
    if not path.startswith(("/photos/", *PREFIXES)):
        assert policy == (
            APP_POLICY
            if path.startswith(("/phone", "/sw.js"))
            else LIVE_POLICY
            if is_live
            else PRINT_POLICY
            if is_printed
            else PAGE_POLICY
        )
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == (
        "no-referrer" if path.startswith(PREFIXES) else "same-origin"
    )
    assert answer.headers["permissions-policy"].startswith("camera=(self)")
    assert (
        answer.headers["cross-origin-opener-policy"]
        == answer.headers["cross-origin-resource-policy"]
        == "same-origin"
    )
    if answer.headers["content-type"].startswith("text/html"):
        assert not INLINE.search(answer.text), INLINE.search(answer.text)
        assert path.startswith("/phone") or answer.text.count("<script") == is_live + is_printed


def test_page_for_one_person_is_not_kept_for_the_next(yard):
    for path in ("/yard", "/trainer", "/yard/accounts", "/sign-in"):
        assert yard.client.get(path).headers["cache-control"] == "no-store"
    assert (
        "immutable"
        in yard.client.get(f"/static/{yard.client.app.state.shell.build}/pages/pages.css").headers[
            "cache-control"
        ]
    )


def test_only_an_icon_may_be_shown_by_another_origin(yard):
    """The plain-http page with the yard's certificate shows one,
    to see whether the phone trusts it.
    """
    base = yard.client.app.state.shell.base
    for path, policy in (
        ("phone/icons/icon-192.png", "cross-origin"),
        ("pages/pages.css", "same-origin"),
        ("phone/js/main.js", "same-origin"),
    ):
        assert yard.client.get(base + path).headers["cross-origin-resource-policy"] == policy


def test_drawings_and_charts_carry_no_inline_code():
    for path in sorted((ROOT / "checklists").glob("*.svg")):
        assert not INLINE.search(path.read_text(encoding="utf-8")), path.name


@pytest.fixture
def lines():
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(JsonLines())
    log.addHandler(handler)
    log.setLevel(logging.INFO)
    yield lambda: [json.loads(line) for line in stream.getvalue().splitlines()]
    log.removeHandler(handler)


def test_log_line_has_the_route_not_the_address(yard, lines):
    secret = "s" * 43
    for path in (
        f"/welcome/{secret}",
        "/trainer/artisans/A01?since=2026-01-01",
        "/no/such/Ano",
        "/batches/B1",
    ):
        yard.client.get(path)
    yard.client.post("/sign-in", data={"code": "LEAD", "password": "secret words here"})
    found = lines()
    assert [(line["method"], line["route"], line["status"]) for line in found] == [
        ("GET", "/welcome/{token}", 404),
        ("GET", "/trainer/artisans/{code}", 200),
        ("GET", "none", 404),
        ("GET", "/batches/{code}", 200),
        ("POST", "/sign-in", 403),
    ]
    assert {*found[0]} == {"at", "level", "request_id", "method", "route", "status", "ms"}
    text = json.dumps(found)
    for word in (
        secret,
        "A01",
        "Ano",
        'B1"',
        "secret words",
        yard.client.cookies["qcapp"],
        "testclient",
        "127.0.0.1",
    ):
        assert word not in text
    assert len({line["request_id"] for line in found}) == 5


def test_answer_carries_the_request_id_of_its_line(yard, lines):
    answer = yard.client.get("/")
    assert lines()[-1]["request_id"] == answer.headers["x-request-id"]


@pytest.mark.parametrize("path", ["/trainer", "/api/trainer/teach"])
def test_unforeseen_error_tells_the_caller_nothing_and_the_log_where(
    yard, lines, monkeypatch, path
):
    def fail(*_arguments):
        raise RuntimeError("the password of Ano is secret")

    monkeypatch.setattr("qcapp.web.trainer.figures.load_figures", fail)
    answer = yard.client.get(path)
    assert answer.status_code == 500 and answer.headers["x-content-type-options"] == "nosniff"
    for word in ("Traceback", "RuntimeError", "secret", "load_figures", ".py"):
        assert word not in answer.text
    line = lines()[-1]
    assert (
        line["level"] == "error"
        and line["error"] == "RuntimeError"
        and any("fail" in frame for frame in line["passed"])
    )
    assert "secret" not in json.dumps(line)


BODIES = {
    "/sign-in": (b"code=LEAD&password=not+the+whole", "application/x-www-form-urlencoded"),
    "/api/devices/enrol": (b'{"code": "not the whole"}', "application/json"),
}


@pytest.mark.parametrize("path", BODIES)
def test_a_caller_who_goes_away_half_way_is_no_error_of_the_server(yard, lines, path):
    body, kind = BODIES[path]
    host = "127.0.0.1:8000"
    headers = {"host": host, "origin": f"http://{host}", "content-type": kind}
    call = Call("POST", path, headers=headers, body=body)
    asyncio.run(ask(yard.client.app, call, cut_at=9))
    line = lines()[-1]
    assert (line["route"], line["status"], line["level"]) == (path, 400, "info")


# --- The demo without passwords


@pytest.fixture(scope="module")
def demo_app():
    yard = open_yard()

    with yard.store.writing() as connection:
        connection.execute(
            insert(META),
            [{"key": "demo_day", "value": "2026-11-25"}, {"key": "demo_filled", "value": "t"}],
        )
    return create_app(
        yard.client.app.state.settings, yard.store, clock=lambda: NOW, has_no_passwords=True
    )


def open_from(app, *, caller="127.0.0.1", host="127.0.0.1:8000"):
    client = open_client(app, address=f"http://{host}")
    client._transport.client = (caller, 50000)
    return client


def test_demo_asks_no_password_of_this_machine(demo_app):
    for host in ("127.0.0.1:8000", "localhost:8000", "[::1]:8000"):
        client = open_from(demo_app, host=host)
        assert client.get("/yard").status_code == 200 and client.get("/account").status_code == 403
    assert open_from(demo_app).post("/yard/join-codes", data={"name": "p"}).status_code == 200


def test_every_page_of_the_demo_says_so_and_leads_to_a_yard_of_ones_own(demo_app):
    client, own = open_from(demo_app), open_yard().client
    pages = {
        path: client.get(path).text
        for path in sorted({route.path for route in list_routes(demo_app)})
        if "{" not in path and client.get(path).headers["content-type"].startswith("text/html")
    }
    shown = {path for path, text in pages.items() if 'class="demo"' in text}
    without = {path for path, text in pages.items() if "<main" in text} - shown
    assert without <= {"/phone", "/phone/"}, without
    assert len(shown) > 20
    install = client.get("/guide/install").text
    assert 'id="install-it"' in install
    assert all('href="/guide/keeping#install"' in pages[path] for path in shown)
    assert 'class="demo"' not in own.get("/yard").text


@pytest.mark.parametrize(
    ("caller", "host"),
    [
        ("192.168.1.9", "127.0.0.1:8000"),
        ("127.0.0.1", "evil.example:8000"),
        ("127.0.0.1", "192.168.1.2:8000"),
    ],
)
def test_demo_from_elsewhere_or_by_another_name_asks_for_one(demo_app, caller, host):
    assert open_from(demo_app, caller=caller, host=host).get("/yard").status_code == 401


@pytest.mark.parametrize("header", ["X-Forwarded-For", "Forwarded", "X-Real-IP"])
def test_demo_behind_a_proxy_asks_for_one(demo_app, header):
    assert open_from(demo_app).get("/yard", headers={header: "127.0.0.1"}).status_code == 401


def test_demo_is_closed_to_a_page_elsewhere(demo_app):
    answer = open_from(demo_app).post(
        "/yard/join-codes", data={"name": "p"}, headers={"Sec-Fetch-Site": "cross-site"}
    )
    assert answer.status_code == 403


def test_real_database_does_not_start_without_passwords():
    yard = open_yard()
    with pytest.raises(StartError, match="not from a demo"):
        create_app(yard.client.app.state.settings, yard.store, has_no_passwords=True)
    assert (
        open_client(yard.client.app, cookie=make_cookie(yard.store)).get("/yard").status_code == 200
    )
