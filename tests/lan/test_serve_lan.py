"""The two ports of `qcapp serve --lan`, asked by a client that checks certificates (OpenSSL)."""

import re
import ssl
import urllib.error
import urllib.request
from datetime import UTC, datetime

import pytest
import uvicorn
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from qcapp.app import create_app
from qcapp.cli.lan_server import listening
from qcapp.cli.serve import PROXIES, read_address, refuse_open_address, run_server
from qcapp.errors import BadInput, StartError
from qcapp.lan.one_origin import OneOrigin
from qcapp.lan.origin import Origin
from qcapp.settings import Settings
from qcapp.web.middleware.transport import StrictTransport
from tests.builders import make_cookie
from tests.lan.serving import make_server

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    made = make_server(tmp_path_factory.mktemp("lan"))
    made.start()
    yield made
    made.stop()


def test_app_answers_over_https_to_who_trusts_the_authority(server):
    assert server.fetch(f"{server.lan.origin.url}/phone/").status == 200
    with pytest.raises(urllib.error.URLError) as refused:
        urllib.request.urlopen(f"{server.lan.origin.url}/phone/", timeout=5)
    assert isinstance(refused.value.reason, ssl.SSLCertVerificationError)


def test_join_code_carries_the_origin(server):
    page = (
        server.fetch(
            f"{server.lan.origin.url}/yard/join-codes",
            data=b"name=Phone+1",
            headers=server.sign_in(),
        )
        .read()
        .decode()
    )
    assert re.search(r"<figcaption>(\S+)#join=", page)[1] == f"{server.lan.origin.url}/phone/"


def test_plain_http_port_has_the_certificate_and_no_app(server):
    base = server.lan.origin.bootstrap_url
    assert server.fetch(f"{base}authority.crt").read() == server.lan.authority.der
    with pytest.raises(urllib.error.HTTPError) as missing:
        server.fetch(f"{base}phone/")
    missing.value.close()
    assert missing.value.code == 404


def test_terminal_shows_the_way_in_and_the_fingerprint_and_no_key(server):
    log = server.read_log()
    assert f"{server.lan.origin.url}/welcome/" in log, "the first lead's one-time link"
    assert server.lan.origin.bootstrap_url in log and server.lan.authority.fingerprint in log
    assert "PRIVATE" not in log and "█" in log


def test_port_in_use_is_said_in_one_line(server):
    origin = server.lan.origin
    with (
        pytest.raises(StartError, match=r"cannot listen.*another qcapp"),
        listening(origin.host, origin.port),
    ):
        pass


ORIGIN = Origin("10.42.0.1")


@pytest.fixture
def guarded():
    inner = Starlette(
        routes=[
            Route(
                "/{path:path}", lambda request: PlainTextResponse("here"), methods=["GET", "POST"]
            )
        ]
    )
    return OneOrigin(inner, ORIGIN)


def test_pages_under_another_name_are_sent_to_the_origin(guarded):
    client = TestClient(guarded, base_url="https://yard.lan:8443", follow_redirects=False)
    answer = client.get("/a%20b/c?d=1&e=%2F")
    assert (answer.status_code, answer.headers["location"]) == (
        307,
        "https://10.42.0.1:8443/a%20b/c?d=1&e=%2F",
    )
    assert client.get("//evil.example/").headers["location"].startswith("https://10.42.0.1:8443/")
    assert client.post("/a").status_code == 421
    assert TestClient(guarded, base_url=ORIGIN.url).post("/a").text == "here"


# --- behind a reverse proxy ---


def proxied(path: str, *, client: str, tmp_path, method="POST", **headers) -> str:
    """A page as uvicorn's own settings of `qcapp serve` let it be seen from `client`."""
    app = create_app(Settings(database_url=f"sqlite:///{tmp_path / 'yard.db'}"))
    app.add_middleware(StrictTransport, days=30)
    config = uvicorn.Config(
        app, proxy_headers=True, forwarded_allow_ips=list(PROXIES), log_config=None
    )
    config.load()
    asked = TestClient(config.loaded_app, base_url="http://yard.example", client=(client, 5000))
    cookie = make_cookie(app.state.store, now=datetime.now(UTC))
    signed_in = {
        "Cookie": f"qcapp={cookie}; __Host-qcapp={cookie}",
        "Sec-Fetch-Site": "same-origin",
    }
    return asked.request(method, path, data={"name": "Phone 1"}, headers={**headers, **signed_in})


def test_proxy_on_this_machine_makes_join_addresses_https(tmp_path):
    answer = proxied(
        "/yard/join-codes", client="127.0.0.1", tmp_path=tmp_path, **{"x-forwarded-proto": "https"}
    )
    assert "<figcaption>https://yard.example/phone/#join=" in answer.text
    assert answer.headers["strict-transport-security"] == "max-age=2592000"


@pytest.mark.parametrize("client", ["127.0.0.2", "10.42.0.5", "192.0.2.1"])
def test_proxy_headers_of_others_are_not_believed(tmp_path, client, monkeypatch):
    monkeypatch.setenv("FORWARDED_ALLOW_IPS", "*")
    answer = proxied(
        "/yard/join-codes", client=client, tmp_path=tmp_path, **{"x-forwarded-proto": "https"}
    )
    assert "<figcaption>http://yard.example/phone/#join=" in answer.text
    assert "strict-transport-security" not in answer.headers


def test_proxy_elsewhere_is_believed_when_named_and_plain_http_is_refused(monkeypatch):
    served = {}
    monkeypatch.setattr(
        "qcapp.cli.serve.run_bound", lambda config, _bound: served.update(vars(config))
    )
    monkeypatch.setattr("qcapp.cli.serve.start_logging", lambda: None)
    inner = Starlette(routes=[Route("/", lambda request: PlainTextResponse(request.url.scheme))])
    run_server(inner, None, proxy="10.0.0.2")
    config = uvicorn.Config(
        served["app"],
        proxy_headers=True,
        forwarded_allow_ips=served["forwarded_allow_ips"],
        log_config=None,
    )
    config.load()
    for client, scheme, status in (
        ("10.0.0.2", "https", 200),
        ("10.0.0.2", "http", 421),
        ("10.0.0.9", "https", 421),
        ("10.0.0.9", None, 421),
    ):
        asked = TestClient(config.loaded_app, base_url="http://yard.example", client=(client, 5000))
        assert (
            asked.get("/", headers={"x-forwarded-proto": scheme} if scheme else {}).status_code
            == status
        ), (client, scheme)
    run_server(inner, None, proxy=None)
    assert served["app"] is inner and served["forwarded_allow_ips"] == list(PROXIES)


@pytest.mark.parametrize(
    ("host", "proxy"),
    [
        ("0.0.0.0", None),
        ("10.0.0.3", None),
        ("::", None),
        ("10.0.0.3", "proxy.lan"),
        ("127.0.0.1", "*"),
    ],
)
def test_open_address_without_a_proxy_is_refused(host, proxy):
    with pytest.raises(BadInput):
        refuse_open_address(host, proxy)


def test_closed_or_proxied_address_is_taken():
    for host, proxy in (
        ("127.0.0.1", None),
        ("localhost", None),
        ("::1", None),
        ("10.0.0.3", "10.0.0.2"),
        ("::", "fd00::2"),
    ):
        refuse_open_address(host, proxy)


def test_address_of_the_first_link_is_an_origin():
    assert (
        read_address("https://yard.example.org")
        == read_address("https://yard.example.org/")
        == "https://yard.example.org/"
    )
    for text in (
        "yard.example.org",
        "https://yard.example.org/x",
        "ftp://yard.example.org",
        "https://u:p@yard.example.org",
        "https://y?x",
    ):
        with pytest.raises(BadInput):
            read_address(text)
