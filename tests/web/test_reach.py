"""Links and QR codes never hold an address that only this machine reaches, unless it was started
with it; and every page that gives one away says who reaches the server.
"""

import io
import re
from pathlib import Path

import pytest
import segno
from pypdf import PdfReader

from qcapp.web.reach import Reach, is_loopback
from tests.builders import ROOT, open_yard
from tests.web.test_batch_review import fill, issue, post
from tests.web.typist import FormReader

pytestmark = pytest.mark.slow

SOURCE = ROOT / "qcapp"
HERE_ONLY = ("http://127.0.0.1:8000", "http://localhost:8000", "http://[::1]:8000")
# Where a QR code is drawn, and what is in it.
DRAWN_CODES = {
    "cli/demo.py",  # a demo's own address, beside the words who reaches it
    "cli/lan_server.py",  # the authority's page, at the address of qcapp lan init
    "documents/summary_pdf.py",  # a link of find_reach
    "documents/tags_pdf.py",  # a serial, no address
    "lan/bootstrap.py",  # the app, at the address of qcapp lan init
    "web/layout/qr.py",  # a link of find_reach
}


def list_files_with(pattern: str) -> set[str]:
    return {
        path.relative_to(SOURCE).as_posix()
        for path in SOURCE.rglob("*.py")
        if re.search(pattern, path.read_text(encoding="utf-8"))
    }


def test_only_one_place_asks_what_this_server_is_called():
    asking = list_files_with(r"\bbase_url\b|state\.address\b(?! =)")
    assert asking == {"web/reach.py"}


def test_places_that_draw_a_code_are_known():
    assert list_files_with(r"\bsegno\.make") == DRAWN_CODES


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.8.8", "::1", "localhost"])
def test_names_of_this_machine(host):
    assert is_loopback(host)


@pytest.mark.parametrize("host", ["10.42.0.1", "yard.lan", "127.0.0.1.example.org", ""])
def test_names_of_others(host):
    assert not is_loopback(host)


def test_an_address_of_this_machine_is_given_away_only_when_named():
    base = "http://localhost:8000/"
    assert Reach(base, is_here_only=True, is_named=False).link("s/a") is None
    assert Reach(base, is_here_only=True, is_named=True).link("s/a") == f"{base}s/a"
    assert Reach(base, is_here_only=False, is_named=False).link("s/a") == f"{base}s/a"


@pytest.fixture
def codes(monkeypatch):
    """What stands in each QR code that is drawn."""
    drawn, draw = [], segno.make

    def note(content, **more):
        drawn.append(content)
        return draw(content, **more)

    monkeypatch.setattr(segno, "make", note)
    return drawn


@pytest.fixture
def yard(tmp_path):
    yard = open_yard(tmp_path)
    fill(yard)
    issue(yard)
    return yard


def give_away(yard, address: str) -> dict[str, str]:
    """The text of everything that somebody opens, scans or types elsewhere, by what it is."""
    yard.client.base_url = address
    yard.client.headers["Origin"] = address
    join = yard.client.post("/yard/join-codes", data={"name": "Phone 2"})
    link = post(yard, "links", label="Buyer")
    token = re.search(r"/s/([\w-]+)", link.text)[1]
    account = yard.client.post("/yard/accounts/LEAD/link")
    tags_page = yard.client.get("/yard/tags")
    paper = yard.client.get(f"/s/{token}/summary.pdf")
    tags = yard.client.get("/yard/tags.pdf", params=FormReader(tags_page.text).fields)
    pages = {
        "join code": join,
        "practice": yard.client.get("/yard/practice"),
        "buyer's link": link,
        "buyer's page": yard.client.get(f"/s/{token}"),
        "welcome link": account,
    }
    assert {answer.status_code for answer in (*pages.values(), paper, tags)} == {200}
    papers = {"summary": paper, "tags": tags}
    return {
        **{name: answer.text for name, answer in pages.items()},
        **{name: read_pdf(answer.content) for name, answer in papers.items()},
    }


def read_pdf(content: bytes) -> str:
    pages = (page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    return re.sub(r"\s", "", "".join(pages))


@pytest.mark.parametrize("address", HERE_ONLY)
def test_nothing_given_away_holds_an_address_of_this_machine(yard, codes, address):
    given = give_away(yard, address)
    host = address.removeprefix("http://")
    # Whoever has no account yet comes to this machine: that link is right, and says so.
    assert {name for name, text in given.items() if host in text} == {"welcome link"}
    assert not [content for content in codes if "://" in content]
    for name in ("join code", "practice", "buyer's link", "welcome link"):
        assert 'id="here-only"' in given[name] and "/guide/secure-address" in given[name], name
    assert "qcappverify" in given["summary"], "the paper still says how it is checked"


def test_an_address_named_at_the_start_is_given_away_with_the_same_words(yard, codes):
    yard.client.app.state.address = f"{HERE_ONLY[1]}/"
    given = give_away(yard, HERE_ONLY[0])
    for name in ("join code", "practice", "buyer's link", "welcome link", "summary"):
        assert HERE_ONLY[1] in given[name], name
        assert HERE_ONLY[0] not in given[name], name
    assert {content.split("/")[2] for content in codes if "://" in content} == {"localhost:8000"}
    assert all('id="here-only"' in given[name] for name in ("join code", "buyer's link"))


def test_where_others_reach_the_server_all_hold_its_address_and_no_warning(yard, codes):
    address = "http://yard.example"
    given = give_away(yard, address)
    for name in ("join code", "practice", "buyer's link", "welcome link", "summary"):
        assert address in given[name], name
    assert len([content for content in codes if content.startswith(address)]) == 2
    assert not [name for name, text in given.items() if 'id="here-only"' in text]


def test_demo_says_who_reaches_it_beside_its_code():
    text = (Path(SOURCE) / "cli" / "demo.py").read_text(encoding="utf-8")
    assert "this machine only" in " ".join(text.split()) and "adb reverse" in text
