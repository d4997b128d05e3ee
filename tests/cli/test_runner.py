"""The server of a laptop: phones let in beside it, a backup put back, and it goes on."""

import json
import socket
import ssl
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from contextlib import closing, contextmanager
from datetime import UTC, datetime

import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from qcapp.cli.lan_listener import LanListener
from qcapp.cli.listening import listening
from qcapp.cli.runner import Runner
from qcapp.lan.folder import open_lan
from qcapp.settings import Settings
from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.usecases.open_store import open_store
from tests.builders import make_cookie

pytestmark = pytest.mark.slow
PHONES = "127.0.0.9"


def find_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


class Sitting:
    """Whoever sits at the laptop."""

    def __init__(self, base: str, cookie: str) -> None:
        self.base, self.headers = (
            base,
            {"Cookie": f"qcapp={cookie}", "Sec-Fetch-Site": "same-origin"},
        )

    def ask(self, path: str, **form: str) -> str:
        data = urllib.parse.urlencode(form).encode() if form else None
        asked = urllib.request.Request(self.base + path, data=data, headers=self.headers)
        return urllib.request.urlopen(asked, timeout=20).read().decode()


@contextmanager
def restarting(runner):
    """Until the next server runs. Whoever asks meanwhile waits in the socket, as in a yard."""
    before = runner._stop
    yield
    end = time.monotonic() + 20
    while runner._stop is before and time.monotonic() < end:
        time.sleep(0.02)
    assert runner._stop is not before


def fetch(address: str, context=None) -> bytes:
    with urllib.request.urlopen(address, timeout=10, context=context) as answer:
        return answer.read()


@contextmanager
def running(folder):
    """(runner, who sits at it); a yard with a lead."""
    settings = Settings(database_url=f"sqlite:///{folder / 'yard.db'}", key_file=folder / "key.pem")
    store = open_store(settings)
    cookie = make_cookie(store, now=datetime.now(UTC))
    store.close()
    port = find_port()
    runner = Runner(settings, port, LanListener(folder / "lan", (find_port(), find_port())))
    told = threading.Event()
    with listening("127.0.0.1", port) as bound:
        thread = threading.Thread(
            target=runner.run, args=(bound, lambda _app: told.set()), daemon=True
        )
        thread.start()
        try:
            assert told.wait(20)
            yield runner, Sitting(runner.address, cookie)
        finally:
            runner._stop()
            thread.join(20)
            assert not thread.is_alive()


def test_phones_are_let_in_and_a_backup_is_put_back_while_it_runs(tmp_path):
    with running(tmp_path) as (runner, lead):
        assert "No phone can reach it yet" in lead.ask("laptop")
        assert "Phones reach it" in lead.ask("laptop/phones", address=PHONES)
        lan = open_lan(tmp_path / "lan")
        trusted = tmp_path / "authority.crt"
        trusted.write_bytes(lan.authority.certificate.public_bytes(Encoding.PEM))
        context = ssl.create_default_context(cafile=str(trusted))
        assert fetch(f"{lan.origin.url}/phone/", context) and fetch(lan.origin.bootstrap_url)
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(f"{lan.origin.url}/laptop", timeout=10, context=context)
        assert refused.value.code == 401
        refused.value.close()
        code = lead.ask("yard/join-codes", name="Phone 1")
        assert f"{lan.origin.url}/phone/#join=" in code, "not the laptop's own address"

        assert "The backup is on the stick" in lead.ask("laptop/backup", typed=str(tmp_path))
        (backup,) = (tmp_path / "qcapp-backups").glob("*.db")
        assert "Restore this backup?" in lead.ask("laptop/restore", typed=str(backup))
        with restarting(runner):
            lead.ask("laptop/restore/sure", file=str(backup))
        with pytest.raises(urllib.error.HTTPError) as refused:
            lead.ask("laptop")
        assert refused.value.code == 401, "whoever was signed in that day has to sign in again"
        refused.value.close()
        page = Sitting(lead.base, sign_in(tmp_path)).ask("laptop")
        assert "The backup is in place" in page and "Phones reach it" in page
    assert list(tmp_path.glob("yard.replaced-*.db"))
    assert list_actions(tmp_path)[-1] == "backup_restored"


def sign_in(folder) -> str:
    """The cookie of the lead, as the page of the laptop gives it."""
    with closing(Store(f"sqlite:///{folder / 'yard.db'}")) as store:
        return make_cookie(store, now=datetime.now(UTC))


def list_actions(folder) -> list[str]:
    """Of the audit trail."""
    store = Store(f"sqlite:///{folder / 'yard.db'}")
    with store.reading() as connection:
        trail = log.list_trail(connection, before=2**53, limit=100)
    store.close()
    return [json.loads(row.raw)["body"]["action"] for row in reversed(trail)]


def test_a_backup_that_vanished_leaves_the_yard_as_it_is_and_says_so(tmp_path):
    with running(tmp_path) as (runner, lead):
        with restarting(runner):
            runner.restore(tmp_path / "gone.db", "LEAD")
        assert "there is no such file" in lead.ask("laptop")
    assert not list(tmp_path.glob("yard.replaced-*.db"))


def test_an_address_that_is_gone_is_told_and_tried_again(tmp_path, monkeypatch):
    with running(tmp_path) as (runner, lead):
        lead.ask("laptop/phones", address=PHONES)
    origin = tmp_path / "lan" / "origin.json"
    origin.write_text(origin.read_text().replace(PHONES, "10.254.254.254"))
    with running(tmp_path) as (runner, lead):
        page = lead.ask("laptop")
        assert "phones do not reach it now" in page and "10.254.254.254" in page
        assert not runner.network.is_open
