"""The plain-http page: the certificate and its steps, and nothing that a listener could use."""

import hashlib
import html
import json
import plistlib
import re
from datetime import timedelta

import pytest
from cryptography import x509
from starlette.testclient import TestClient

from qcapp.lan.bootstrap import (
    HERE,
    choose_language,
    guess_system,
    load_bootstrap_texts,
    make_bootstrap,
)
from tests.lan.made import NOW, make_folder

IPHONE = {"user-agent": "Mozilla/5.0 (iPhone; CPU iPhone OS 17_0 like Mac OS X)"}
ANDROID = {"user-agent": "Mozilla/5.0 (Linux; Android 13) Chrome/120"}


@pytest.fixture
def lan(tmp_path):
    return make_folder(tmp_path / "lan")


@pytest.fixture
def moments():
    return [NOW]


@pytest.fixture
def client(lan, moments):
    return TestClient(
        make_bootstrap(
            lan, picture_path="/static/b/phone/icons/icon-192.png", clock=lambda: moments[-1]
        ),
        base_url="http://10.42.0.1:8080",
    )


def test_certificate_comes_as_der_with_the_type_that_phones_know(client, lan):
    answer = client.get("/authority.crt")
    assert answer.headers["content-type"] == "application/x-x509-ca-cert"
    assert x509.load_der_x509_certificate(answer.content) == lan.authority.certificate


def test_profile_carries_the_same_certificate(client, lan):
    answer = client.get("/authority.mobileconfig")
    assert answer.headers["content-type"] == "application/x-apple-aspen-config"
    profile = plistlib.loads(answer.content)
    (payload,) = profile["PayloadContent"]
    assert (
        payload["PayloadType"] == "com.apple.security.root"
        and payload["PayloadContent"] == lan.authority.der
    )
    assert len({profile["PayloadUUID"], payload["PayloadUUID"]}) == 2
    assert client.get("/authority.mobileconfig").content == answer.content


def test_page_shows_the_fingerprint_of_what_it_offers(client):
    text = client.get("/").text
    offered = hashlib.sha256(client.get("/authority.crt").content).hexdigest().upper()
    shown = re.search(r'id="print">(.*?)</p>', text)[1]
    assert re.sub("<[^>]+>| ", "", shown) == offered


@pytest.mark.parametrize(
    "path", ["/", "/authority.crt", "/authority.mobileconfig", "/bootstrap.css", "/bootstrap.js"]
)
def test_every_answer_is_strict_and_sets_no_cookie(client, path):
    answer = client.get(path)
    assert answer.status_code == 200 and "set-cookie" not in answer.headers
    assert answer.headers["content-security-policy"].startswith(
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src https://10.42.0.1:8443;"
    )
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert (answer.headers["x-content-type-options"], answer.headers["cache-control"]) == (
        "nosniff",
        "no-store",
    )


@pytest.mark.parametrize(
    "path",
    [
        "/phone/",
        "/yard",
        "/trainer",
        "/batches",
        "/api/sync/hello",
        "/sw.js",
        "/authority.pem",
        "/server.pem",
        "/../authority.pem",
        "/openapi.json",
    ],
)
def test_there_is_no_app_and_no_key_over_http(client, path):
    assert client.get(path).status_code == 404
    assert client.post("/").status_code == 405


def test_page_has_no_inline_script_or_style_and_nothing_from_elsewhere(client):
    text = client.get("/").text
    assert not re.search(r"<script(?![^>]*src=)|<style|\sstyle=|\son\w+=", text)
    links = set(re.findall(r"(?:href|src|data-picture)=\"([^\"#][^\"]*)", text))
    assert {link for link in links if not link.startswith("/")} == {
        "https://10.42.0.1:8443/phone/",
        "https://10.42.0.1:8443/static/b/phone/icons/icon-192.png",
    }


@pytest.mark.parametrize(
    ("agent", "opened"),
    [(IPHONE, "ios"), (ANDROID, "android"), ({"user-agent": "X11; Linux"}, "laptop")],
)
def test_steps_of_this_kind_of_phone_are_unfolded(client, agent, opened):
    text = client.get("/", headers=agent).text
    assert re.findall(r'<details id="(\w+)" open>', text) == [opened]
    assert guess_system(agent["user-agent"]) == opened


def test_every_picture_of_a_step_is_drawn(client):
    text = client.get("/").text
    assert set(re.findall(r'<use href="#([\w-]+)"', text)) == set(
        re.findall(r'<symbol id="([\w-]+)"', text)
    )


def test_every_text_of_the_words_file_is_on_the_page(client, moments):
    moments.append(NOW + timedelta(days=396))
    text = html.unescape(client.get("/").text)
    words = load_bootstrap_texts(
        HERE / "words",
        origin="https://10.42.0.1:8443",
        app="https://10.42.0.1:8443/phone/",
        name="yard.lan",
    )["en"]

    def list_texts(part):
        if isinstance(part, str):
            return [part]
        return [
            found
            for inner in (part.values() if isinstance(part, dict) else part)
            for found in list_texts(inner)
        ]

    shown = [found for part in words.values() for found in list_texts(part)]
    pictures = {step["picture"] for system in ("android", "ios") for step in words[system]["steps"]}
    assert len(shown) > 40 and not [
        found for found in shown if found not in text and found not in pictures
    ]


def test_ended_server_certificate_is_said(client, moments):
    assert "has expired" not in client.get("/").text
    moments.append(NOW + timedelta(days=396))
    assert "has expired" in client.get("/").text


def test_texts_are_in_one_place_and_a_language_is_a_file(tmp_path):
    english = (HERE / "words" / "en.json").read_text(encoding="utf-8")
    (tmp_path / "en.json").write_text(english, encoding="utf-8")
    (tmp_path / "xx.json").write_text(
        json.dumps({**json.loads(english), "title": "Tout {name}"}), encoding="utf-8"
    )
    words = load_bootstrap_texts(tmp_path, origin="o", app="a", name="yard.lan")
    assert words["xx"]["title"] == "Tout yard.lan"
    assert choose_language("fr-FR,fr;q=0.9,xx;q=0.5", words) == "xx"
    assert choose_language("", words) == choose_language("qq", words) == "en"
    template = (HERE / "templates" / "bootstrap.html").read_text(encoding="utf-8")
    assert not re.search(r">[^<>{}%]*[A-Za-z]{3}[^<>{}%]*<", html.unescape(template)), (
        "a text stands in the template"
    )
