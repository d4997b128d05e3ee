"""The lead's page of the laptop: who may open it, what it says, what its buttons do."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from qcapp import __version__
from qcapp.app import create_app
from qcapp.cli.lan_listener import LanListener
from qcapp.cli.runner import Runner
from qcapp.errors import StartError
from qcapp.machine.places import RemovablePlace
from qcapp.machine.sign_in_start import describe_start
from qcapp.settings import Settings
from qcapp.usecases import laptop as laptop_use
from qcapp.usecases.laptop import Network, UpdateState
from qcapp.web.laptop import pages
from tests.builders import NOW, ROOT, Phone, make_cookie, open_small_store

BASE = "http://127.0.0.1"


class YardLaptop:
    """A yard on its laptop; nobody has signed in yet unless is_led."""

    def __init__(self, folder: Path, *, is_led: bool = True) -> None:
        self.folder = folder
        self.store, self.checklist = open_small_store(folder / "yard.db")
        self.settings = Settings(
            database_url=self.store.url,
            static_dir=ROOT / "static",
            checklists_dir=ROOT / "checklists",
            key_file=folder / "key.pem",
        )
        self.app = create_app(self.settings, self.store, clock=lambda: NOW)
        self.runner = Runner(self.settings, 8000, LanListener(folder / "lan"))
        self.runner.start_file = describe_start(["/opt/qcapp"], home=folder, system="win32")
        self.app.state.laptop = self.runner
        self.cookie = make_cookie(self.store) if is_led else None

    def sit(self, base: str = BASE, client: str = "127.0.0.1", **headers: str) -> TestClient:
        """A browser: on the laptop itself unless said otherwise."""
        browser = TestClient(
            self.app,
            base_url=base,
            client=(client, 1),
            headers={"Sec-Fetch-Site": "same-origin", **headers},
            raise_server_exceptions=False,
        )
        if self.cookie:
            browser.cookies.set("qcapp", self.cookie)
        return browser


@pytest.fixture
def laptop(tmp_path, monkeypatch):
    monkeypatch.delenv("APPDATA", raising=False)
    monkeypatch.setattr(laptop_use, "list_removable_places", list)
    return YardLaptop(tmp_path)


ELSEWHERE = (
    {"client": "10.42.0.7"},
    {"base": "http://yard.example"},
    {"X-Forwarded-For": "10.42.0.7"},
)


@pytest.mark.parametrize("who", ELSEWHERE, ids=["phone", "other name", "behind a proxy"])
def test_from_elsewhere_the_page_says_only_where_to_open_it(laptop, who):
    browser = laptop.sit(**who)
    text = browser.get("/laptop").text
    assert "http://127.0.0.1:8000/laptop" in text and str(laptop.folder) not in text
    for path in ("backup", "phones", "own-start", "restore", "restore/sure", "update", "first"):
        assert browser.post(f"/laptop/{path}").status_code in (403, 400, 422), path
    answer = browser.post("/laptop/backup", data={"typed": str(laptop.folder)})
    assert answer.status_code == 403 and not (laptop.folder / laptop_use.STICK_FOLDER).exists()
    assert browser.post("/laptop/first").status_code == 403


def test_a_server_that_was_started_otherwise_has_no_buttons(laptop):
    laptop.app.state.laptop = None
    text = laptop.sit().get("/laptop").text
    assert "restore and update are commands" in text and 'action="/laptop' not in text


def test_pages_that_need_an_address_lead_to_where_it_is_chosen(laptop):
    assert 'href="/laptop#phones"' in laptop.sit().get("/yard").text
    laptop.app.state.laptop = None
    text = laptop.sit().get("/yard").text
    assert "/laptop#phones" not in text and "qcapp lan init" in text


def test_page_tells_state_backup_disk_and_version(laptop, monkeypatch):
    monkeypatch.setattr(laptop_use, "measure_free", lambda _path: 34_250_000_000)
    text = laptop.sit().get("/laptop").text
    assert "No phone can reach it yet" in text and "none yet" in text
    assert "34.2 GB" in text and __version__ in text and str(laptop.folder) in text
    assert "make room" not in text
    monkeypatch.setattr(laptop_use, "measure_free", lambda _path: 1_000_000_000)
    assert "make room" in laptop.sit().get("/laptop").text


@pytest.mark.parametrize("is_open", [True, False])
def test_with_a_network_it_tells_address_days_and_phones(laptop, monkeypatch, is_open):
    problem = None if is_open else StartError("this machine does not have the address", "10.42.0.1")
    found = Network("https://10.42.0.1:8443/", "http://10.42.0.1:8080/", is_open, problem, 391, 900)
    monkeypatch.setattr(laptop.runner, "describe_network", lambda: found)
    text = laptop.sit().get("/laptop").text
    assert found.address in text and found.first_page in text and "391 days left" in text
    assert "<svg" in text, "the code that a new phone scans"
    assert ("Phones reach it" in text) is is_open
    assert ("does not have the address" in text) is not is_open
    assert ("laptop-state on" in text) is is_open


def test_addresses_among_which_the_lead_chooses_are_those_of_this_machine(laptop, monkeypatch):
    monkeypatch.setattr(laptop.runner, "list_addresses", list)
    assert "in no network now" in laptop.sit().get("/laptop").text
    monkeypatch.setattr(laptop.runner, "list_addresses", lambda: ["10.42.0.1", "192.168.1.5"])
    text = laptop.sit().get("/laptop").text
    assert re.findall(r'name="address" value="([^"]+)"', text) == ["10.42.0.1", "192.168.1.5"]
    answer = laptop.sit().post("/laptop/phones", data={"address": "8.8.8.8"})
    assert answer.status_code == 400 and "not an address of a private network" in answer.text
    assert not (laptop.folder / "lan").exists()


def test_letting_phones_in_makes_the_authority_once(laptop):
    page = laptop.sit().post("/laptop/phones", data={"address": "127.0.0.9"})
    assert page.status_code == 200 and "https://127.0.0.9:8443/" in page.text
    before = (laptop.folder / "lan" / "authority.pem").read_bytes()
    laptop.sit().post("/laptop/phones", data={"address": "127.0.0.9"})
    assert (laptop.folder / "lan" / "authority.pem").read_bytes() == before


def test_backup_to_a_stick_is_read_back_and_takes_the_keys_where_asked(laptop, monkeypatch):
    stick = laptop.folder / "STICK"
    stick.mkdir()
    monkeypatch.setattr(
        laptop_use, "list_removable_places", lambda: [RemovablePlace(stick, 8_000_000_000)]
    )
    assert f'value="{stick}" checked' in laptop.sit().get("/laptop").text
    page = laptop.sit().post("/laptop/backup", data={"chosen": str(stick)})
    (made,) = (stick / "qcapp-backups").glob("*.db")
    assert page.status_code == 200 and str(made) in page.text
    assert made.read_bytes() == next((laptop.folder / "backups").glob("*.db")).read_bytes()
    assert not (stick / "qcapp-backups" / "keys").exists()
    (laptop.folder / "key.pem").write_text("the key")
    laptop.sit().post("/laptop/backup", data={"chosen": str(stick), "keys": "true"})
    assert (stick / "qcapp-backups" / "keys" / "key.pem").read_text() == "the key"


@pytest.mark.parametrize(
    ("form", "says"),
    [({}, "no place was chosen"), ({"typed": "nowhere/at/all"}, "no such folder")],
)
def test_a_place_that_is_not_there_is_told(laptop, form, says):
    page = laptop.sit().post("/laptop/backup", data=form)
    assert page.status_code == 400 and says in page.text


def test_restore_says_what_is_in_the_backup_before_it_asks(laptop, monkeypatch):
    asked = []
    monkeypatch.setattr(laptop.runner, "restore", lambda file, by: asked.append((file, by)))
    phone = Phone(laptop.checklist)
    client = laptop.sit()
    code = client.post("/yard/join-codes", data={"name": "P"}).text
    assert phone and "Join code" in code
    client.post("/laptop/backup", data={"typed": str(laptop.folder)})
    (made,) = (laptop.folder / "qcapp-backups").glob("*.db")
    page = client.post("/laptop/restore", data={"typed": str(made)}).text
    assert "In this backup" in page and str(made) in page and "another yard" not in page
    assert not asked, "nothing happens before the second button"
    waiting = client.post("/laptop/restore/sure", data={"file": str(made)})
    assert asked == [(made, "LEAD")] and waiting.headers["refresh"].endswith("url=/laptop")
    chosen = re.search(r'<option value="([^"]+Z\.db)"', client.get("/laptop").text)
    assert chosen, "the daily one is offered"


@pytest.mark.parametrize(
    ("content", "says"),
    [(b"", "not complete|not a database"), (b"x" * 5000, "not complete"), (None, "no such file")],
)
def test_what_is_no_backup_is_refused_before_anything_is_asked(laptop, content, says):
    file = laptop.folder / "other.db"
    if content is not None:
        file.write_bytes(content)
    page = laptop.sit().post("/laptop/restore", data={"typed": str(file)})
    assert page.status_code in (400, 404) and re.search(says, page.text)
    assert laptop.sit().post("/laptop/restore/sure", data={"file": str(file)}).status_code >= 400


def test_starting_by_itself_is_switched_on_and_off_and_says_which_file(laptop):
    file = laptop.runner.start_file.path
    assert file.name == "qcapp.cmd" and str(file) in laptop.sit().get("/laptop").text
    page = laptop.sit().post("/laptop/own-start", data={"is_on": "true"})
    assert file.is_file() and "On: the program starts" in page.text
    laptop.sit().post("/laptop/own-start")
    assert not file.exists()


def test_update_is_waited_for_and_its_end_is_told(laptop):
    laptop.runner.update = UpdateState("new.zip", "It is unpacked.")
    page = laptop.sit().get("/laptop/update")
    assert "It is unpacked." in page.text and page.headers["refresh"].endswith("/laptop/update")
    laptop.runner.update = UpdateState("new.zip", "", StartError("it did not answer"), is_over=True)
    page = laptop.sit().get("/laptop/update")
    assert page.url.path == "/laptop" and "it did not answer" in page.text


def test_update_of_a_program_installed_with_python_is_refused(laptop):
    page = laptop.sit().post("/laptop/update", files={"file": ("new.zip", b"PK")})
    assert page.status_code == 500 and "installed with Python" in page.text
    assert laptop.sit().post("/laptop/update").status_code == 400


def test_first_page_is_open_on_the_laptop_until_there_is_a_lead(tmp_path):
    laptop = YardLaptop(tmp_path, is_led=False)
    assert "nobody has signed in yet" in laptop.sit().get("/laptop/first").text
    assert laptop.sit(client="10.42.0.7").get("/laptop/first").url.path == "/"
    assert laptop.sit().get("/laptop").status_code == 401
    page = laptop.sit().post("/laptop/first")
    assert page.url.path.startswith("/welcome/") and page.status_code == 200
    make_cookie(laptop.store)
    assert laptop.sit().get("/laptop/first").url.path == "/"
    assert laptop.sit().post("/laptop/first").status_code == 401


def test_version_is_told_to_whoever_asks(laptop):
    assert laptop.sit().get("/laptop/version").json() == {
        "program": "qcapp",
        "version": __version__,
    }


def test_age_of_a_backup_in_words():
    ages = [
        pages.describe_age(datetime(2026, 1, 9, tzinfo=UTC) - made)
        for made in (
            datetime(2026, 1, 8, 23, 30, tzinfo=UTC),
            datetime(2026, 1, 8, 22, 0, tzinfo=UTC),
            datetime(2026, 1, 4, 0, 0, tzinfo=UTC),
        )
    ]
    assert ages == ["less than an hour old", "2 hours old", "5 days old"]
