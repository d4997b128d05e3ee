"""Attacks by content: what is shown, exported or sent on must stay what it is."""

import hashlib
import io
import re
import zipfile
from urllib.parse import quote

import pytest

from qcapp.store.registry.people import save_people
from qcapp.web.accounts.sign_in import as_local
from tests.builders import open_yard
from tests.web.test_photos import JPEG


@pytest.fixture
def yard():
    return open_yard()


# --- Uploaded pictures


def upload(yard, content):
    name = hashlib.sha256(content).hexdigest()
    headers = {**yard.headers, "Upload-Length": str(len(content)), "Upload-Offset": "0"}
    return name, yard.client.patch(f"/api/photos/{name}", content=content, headers=headers)


SCRIPT = b"<script>alert(1)</script>"
POLYGLOTS = [
    JPEG + SCRIPT,
    JPEG[:2] + b"\xff\xfe" + (len(SCRIPT) + 2).to_bytes(2, "big") + SCRIPT + JPEG[2:],
]


@pytest.mark.parametrize(
    "content",
    [
        b'<svg xmlns="http://www.w3.org/2000/svg">' + SCRIPT + b"</svg>",
        b"<!doctype html>" + SCRIPT,
        b"GIF89a" + SCRIPT,
        *POLYGLOTS,
    ],
    ids=["svg", "html", "gif", "script after the picture", "script as the picture's comment"],
)
def test_page_or_script_as_a_photo_is_refused_and_dropped(yard, content):
    name, answer = upload(yard, content)
    assert answer.status_code == 400
    shown = yard.client.get(f"/photos/{name}")
    assert shown.status_code == 404 and b"alert" not in shown.content


def test_photo_itself_is_an_image_to_the_browser_and_may_run_nothing(yard):
    name, answer = upload(yard, JPEG)
    assert answer.status_code == 204
    yard.push(yard.phone.inspect("B1-001", photos=[name]))
    shown = yard.client.get(f"/photos/{name}")
    assert (
        shown.status_code == 200
        and shown.headers["content-type"] == "image/jpeg"
        and shown.headers["x-content-type-options"] == "nosniff"
    )
    policy = shown.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'") and "script-src" not in policy


# --- Formulas in tables, headers, redirects

FORMULA = '=HYPERLINK("http://evil.example","x")'


def test_formula_in_a_name_is_text_in_csv_and_xlsx(yard):
    with yard.store.writing() as connection:
        save_people(
            connection,
            [
                {
                    "code": "A01",
                    "name": FORMULA,
                    "trades": ["metalwork"],
                    "started_on": None,
                    "is_inspector": False,
                }
            ],
        )
    yard.push(
        *[
            yard.phone.inspect(f"B1-{n:03}", dents="fail", disposition="concession")
            for n in range(3)
        ]
    )
    text = yard.client.get("/trainer/tables/artisans.csv").text
    assert FORMULA.replace('"', '""') in text and not re.search(r'(^|,)"?=', text, re.MULTILINE)
    sheets = zipfile.ZipFile(io.BytesIO(yard.client.get("/trainer/tables.xlsx").content))
    assert not [name for name in sheets.namelist() if b"<f>" in sheets.read(name)], (
        "no cell is a formula"
    )
    assert "HYPERLINK" in b"".join(map(sheets.read, sheets.namelist())).decode("utf-8", "replace")


@pytest.mark.parametrize("text", ["T01\r\nSet-Cookie: a=b", "T01\nX: y", "T01\0"])
def test_header_injection_adds_no_header(yard, text):
    for answer in (
        yard.client.post(
            "/sign-in",
            data={"code": text, "password": "x", "wanted": f"/{text}"},
            follow_redirects=False,
        ),
        yard.client.get(f"/yard/people/{quote(text)}.json"),
        yard.client.get(f"/trainer/tables/{quote(text)}.csv"),
        yard.client.get(f"/batches/{quote(text)}"),
    ):
        assert "a=b" not in answer.headers.get("set-cookie", "") and "x" not in answer.headers
        assert "\n" not in str(dict(answer.headers)) and answer.status_code < 500


@pytest.mark.parametrize(
    "wanted",
    [
        "//evil.example",
        "/\\evil.example",
        "\\\\evil.example",
        "https://evil.example",
        "javascript:alert(1)",
        "evil.example",
        "",
        " /x",
        "/\t/evil.example",
        "/\r\nX: y",
        "/x\\y",
    ],
)
def test_open_redirect_sign_in_leads_only_to_this_server(wanted):
    assert as_local(wanted) == "/"


@pytest.mark.parametrize("wanted", ["/", "/trainer?since=2026-01-01", "/batches/B1"])
def test_sign_in_leads_to_an_address_of_this_server(wanted):
    assert as_local(wanted) == wanted
