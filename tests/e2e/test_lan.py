"""A phone in a yard without internet: what Chromium makes of the yard's own authority, and what our
page says of it.

The authority goes into an NSS store of a throw-away home, where Chromium for Linux looks; 127.0.0.x
stands for the yard's addresses. Real Android and iOS devices were not tried.
"""

import os
import ssl
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Error

from qcapp.app import create_app
from qcapp.lan.bootstrap import make_bootstrap
from qcapp.lan.folder import Lan, create_lan
from qcapp.lan.leaf import make_leaf, read_leaf
from qcapp.lan.one_origin import OneOrigin
from qcapp.lan.origin import Origin
from tests.conftest import CHROMIUM_FLAGS, PHONE, get_chromium_path, open_profile
from tests.e2e.core.test_worker import WAIT_ACTIVE
from tests.e2e.inspector import Inspector
from tests.e2e.phone_words import word
from tests.e2e.server import ROOT, find_free_port, open_small_yard, read_checklist
from tests.lan.made import make

HOST = "127.0.0.9"
PICTURE = (ROOT / "static" / "phone" / "icons" / "icon-192.png").read_bytes()


@pytest.fixture
def lan(tmp_path) -> Lan:
    now = datetime.now(UTC)
    origin = Origin(HOST, find_free_port(), find_free_port())
    return create_lan(
        tmp_path / "lan", authority=make(("127.0.0.0/8",), HOST, now), origin=origin, now=now
    )


@pytest.fixture
def open_trusting(playwright, tmp_path, lan) -> Iterator:
    """Call it for a phone; `trusts`: whether the authority was installed on it."""
    opened = []

    def open_phone(trusts: bool = True):
        home = tmp_path / "home"
        if not home.exists():
            make_home(home, lan, trusts)
        context = open_profile(
            playwright, tmp_path / "phone", env={**os.environ, "HOME": str(home)}
        )
        opened.append(context)
        return context

    yield open_phone
    for context in opened:
        context.close()


def make_home(home: Path, lan: Lan, trusts: bool) -> None:
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    certificate = home / "authority.crt"
    certificate.write_bytes(lan.authority.der)
    for words in (
        ["-N", "--empty-password"],
        *([["-A", "-t", "C,,", "-n", "yard", "-i", str(certificate)]] if trusts else []),
    ):
        subprocess.run(["certutil", "-d", f"sql:{store}", *words], check=True, timeout=30)


@contextmanager
def running(app, host: str, port: int, **tls) -> Iterator[None]:
    """The app answers at this address; when it ends, nobody does."""
    server = uvicorn.Server(uvicorn.Config(app, host=host, port=port, log_level="error", **tls))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive(), "the server ended early"
        time.sleep(0.02)
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(10)


class _Picture(BaseHTTPRequestHandler):
    def do_GET(self):
        self.send_response(200)
        self.send_header("Content-Type", "image/png")
        self.end_headers()
        self.wfile.write(PICTURE)

    def log_message(self, *_what):
        pass


@contextmanager
def served(lan: Lan, leaf_pem: str) -> Iterator[None]:
    """The page with the certificate, and a https server with this leaf and a picture in place of
    the app.
    """
    lan.server_path.write_text(leaf_pem)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(lan.server_path)
    main = ThreadingHTTPServer((HOST, lan.origin.port), _Picture)
    # Each connection greets in its own thread: one that says nothing must not hold up the others.
    main.socket = context.wrap_socket(main.socket, server_side=True, do_handshake_on_connect=False)
    threading.Thread(target=main.serve_forever, args=(0.02,), daemon=True).start()
    page = make_bootstrap(
        replace(lan, leaf=read_leaf(leaf_pem)),
        picture_path="/picture.png",
        clock=lambda: datetime.now(UTC),
    )
    try:
        with running(page, HOST, lan.origin.bootstrap_port):
            yield
    finally:
        main.shutdown()
        main.server_close()


def test_app_of_a_trusted_yard_starts_cold_without_the_server(lan, open_trusting, tmp_path):
    yard = open_small_yard(tmp_path)
    app = create_app(yard.settings)
    bootstrap = make_bootstrap(
        lan,
        picture_path=f"{app.state.shell.base}phone/icons/icon-192.png",
        clock=lambda: datetime.now(UTC),
    )
    main = running(OneOrigin(app, lan.origin), HOST, lan.origin.port, ssl_certfile=lan.server_path)
    with main, running(bootstrap, HOST, lan.origin.bootstrap_port):
        context = open_trusting()
        page = context.pages[0]
        page.goto(lan.origin.bootstrap_url)
        page.get_by_text("Yes, it does").wait_for()
        page.get_by_role("link", name="Open the app").tap()
        page.wait_for_url(f"{lan.origin.url}/phone/**")
        assert page.evaluate("isSecureContext") and page.evaluate(WAIT_ACTIVE) in (
            "activating",
            "activated",
        )
        Inspector(page, read_checklist(yard, "finished-stove")).join(
            lan.origin.url, yard.make_code()
        )
        context.close()
    page = open_trusting().pages[0]
    assert page.goto(f"{lan.origin.url}/phone/").from_service_worker
    page.get_by_role("button", name=word("today.next")).tap()
    page.locator("#ui-serial").wait_for()


def leaf_of(case: str, lan: Lan) -> str:
    now = datetime.now(UTC)
    facts = {"address": HOST, "name": "yard.lan", "now": now}
    facts |= {
        "expired": {"now": now - timedelta(days=400)},
        "wrong address": {"address": "127.0.0.8"},
    }.get(case, {})
    return make_leaf(lan.authority, **facts)


@pytest.mark.parametrize(
    ("case", "trusts", "code", "also"),
    [
        ("expired", True, "ERR_CERT_DATE_INVALID", "The server's certificate has expired"),
        ("wrong address", True, "ERR_CERT_COMMON_NAME_INVALID", None),
        ("not installed", False, "ERR_CERT_AUTHORITY_INVALID", None),
    ],
)
def test_what_is_shown_when_the_phone_does_not_trust(lan, open_trusting, case, trusts, code, also):
    with served(lan, leaf_of(case, lan)):
        context = open_trusting(trusts)
        with pytest.raises(Error, match=f"net::{code}"):
            context.pages[0].goto(f"{lan.origin.url}/phone/")
        # A tab of its own: the first is still on its way to the browser's error page.
        page = context.new_page()
        page.goto(lan.origin.bootstrap_url)
        page.get_by_text("Not yet").wait_for()
        page.get_by_text("Do the steps below").wait_for()
        assert page.locator(".state:visible svg use").get_attribute("href") == "#sign-bad"
        assert page.get_by_role("link", name="Open the app").count() == 0
        hints = page.locator(".hint:visible").all_inner_texts()
        assert len(hints) == (1 if also else 0) and all(also in hint for hint in hints)


def test_leaf_outside_the_constraints_is_refused(lan, open_trusting, playwright, tmp_path):
    """The key in the wrong hands: a leaf for a public name, with that name led here."""
    home = tmp_path / "home"
    make_home(home, lan, trusts=True)
    with served(
        lan, make_leaf(lan.authority, address=HOST, name="bank.test", now=datetime.now(UTC))
    ):
        browser = playwright.chromium.launch(
            executable_path=get_chromium_path(),
            env={**os.environ, "HOME": str(home)},
            args=[*CHROMIUM_FLAGS, f"--host-resolver-rules=MAP bank.test {HOST}"],
        )
        for host in ("bank.test", HOST):
            with pytest.raises(Error, match="net::ERR_CERT_INVALID"):
                browser.new_page().goto(f"https://{host}:{lan.origin.port}/")
        browser.close()


def test_wrong_date_of_the_phone_and_a_silent_server_are_told_apart(lan, open_trusting):
    with served(lan, leaf_of("good", lan)):
        page = open_trusting().pages[0]
        page.clock.install(time=datetime.now(UTC) - timedelta(days=400))
        page.route("**/picture.png*", lambda route: None)
        # The picture that never comes would hold up `load`.
        page.goto(lan.origin.bootstrap_url, wait_until="domcontentloaded")
        page.get_by_text("date or time of this phone").wait_for()
        page.clock.fast_forward(11_000)
        page.get_by_text("No answer").wait_for()
        assert lan.origin.url in page.locator(".state:visible").inner_text()
        page.unroute_all(behavior="ignoreErrors")
        page.get_by_role("button", name="Test again").tap()
        page.get_by_text("Yes, it does").wait_for()


def test_plain_http_from_another_machine_records_nothing(playwright, tmp_path):
    """A name led to this machine stands for another one:
    to the browser the origin is not a secure one.
    """
    yard = open_small_yard(tmp_path)
    with running(create_app(yard.settings), "127.0.0.1", yard.port):
        browser = playwright.chromium.launch(
            executable_path=get_chromium_path(),
            args=[*CHROMIUM_FLAGS, "--host-resolver-rules=MAP yard.test 127.0.0.1"],
        )
        page = browser.new_context(**PHONE).new_page()
        page.goto(f"http://yard.test:{yard.port}/phone/#join={yard.make_code()}")
        page.get_by_role("heading", name=word("insecure.title")).wait_for()
        page.get_by_text(word("insecure.todo")).wait_for()
        assert page.evaluate("[isSecureContext, 'serviceWorker' in navigator]") == [False, False]
        assert page.locator("button, input").count() == 0
        assert (
            page.evaluate("indexedDB.databases()") == []
            and page.evaluate("localStorage.length") == 0
        )
        browser.close()
