"""qcapp start: a server on this machine, its page in the browser, and a second double click."""

import http.server
import socket
import sqlite3
import sys
import threading
from contextlib import contextmanager
from unittest import mock

import pytest
from fastapi.testclient import TestClient

from qcapp.cli import start
from qcapp.errors import StartError
from qcapp.release.place import ProgramPlace
from qcapp.settings import Settings
from qcapp.usecases.laptop import Network
from qcapp.usecases.open_store import open_store
from tests.builders import make_cookie, open_yard
from tests.cli.test_cli import run
from tests.cli.test_cli_serve import serve

pytestmark = pytest.mark.slow


@contextmanager
def answering(kind: str, body: bytes):
    """The port of some other program of this machine."""

    class Answer(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            self.send_response(200)
            self.send_header("Content-Type", kind)
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_words):
            """Quiet."""

    with http.server.HTTPServer(("127.0.0.1", 0), Answer) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield server.server_port
        server.shutdown()


@pytest.fixture
def opened(monkeypatch):
    """The addresses that the browser is asked to open."""
    asked = []
    monkeypatch.setattr(start.webbrowser, "open", lambda address: asked.append(address) or True)
    monkeypatch.setattr(start, "threading", mock.Mock(Thread=Now))
    return asked


class Now:
    """In place of a thread."""

    def __init__(self, *, target, args, daemon):
        self.call = (target, args)

    def start(self):
        self.call[0](*self.call[1])


def find_free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def start_at(tmp_path, *words):
    port = find_free_port()
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    open_store(Settings(database_url=url)).close()
    said, app, _options = serve("start", "--port", port, *words, database=url)
    return port, said, app


def test_first_start_opens_the_link_of_the_first_lead(tmp_path, opened):
    port, said, app = start_at(tmp_path)
    base = f"http://127.0.0.1:{port}"
    (address,) = opened
    assert address in said and address == f"{base}/laptop/first"
    client = TestClient(
        app, base_url=base, client=("127.0.0.1", 1), headers={"Sec-Fetch-Site": "same-origin"}
    )
    assert client.get(address).status_code == 200
    assert client.post("/laptop/first").url.path.startswith("/welcome/")
    assert client.get("/trainer").status_code == 401, "it asks for a password"
    assert app.state.are_backups_daily


def test_window_says_who_reaches_it_where_records_are_and_how_to_stop(tmp_path, opened):
    _port, said, _app = start_at(tmp_path, "--no-browser")
    assert "Only this machine" in said and "USB cable" in said and "Ctrl+C" in said
    assert "Records are kept in" in said and "No phone reaches it yet" in said
    assert opened == []


def test_with_a_lead_the_page_of_the_laptop_is_opened(tmp_path, opened):
    port = find_free_port()
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    store = open_store(Settings(database_url=url))
    make_cookie(store)
    store.close()
    said, _app, _options = serve("start", "--port", port, database=url)
    assert opened == [f"http://127.0.0.1:{port}/laptop"] and "no yard lead yet" not in said


def test_window_says_where_phones_reach_it():
    network = Network("https://10.42.0.1:8443/", "http://10.42.0.1:8080/", True, None, 390, 3000)
    said = start.describe("http://127.0.0.1:8000/laptop", network, is_led=True)
    assert "Phones reach it at https://10.42.0.1:8443/" in said


def test_records_are_put_back_from_the_copy_and_the_window_says_so(tmp_path, monkeypatch, capsys):
    for name in ("yard.db", "copy.db"):
        open_store(Settings(database_url=f"sqlite:///{tmp_path / name}")).close()
    monkeypatch.setenv("QCAPP_DATABASE_URL", f"sqlite:///{tmp_path / 'yard.db'}")
    start.put_records_back(str(tmp_path / "copy.db"))
    assert capsys.readouterr().out == ""
    with sqlite3.connect(tmp_path / "yard.db") as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    start.put_records_back(str(tmp_path / "copy.db"))
    assert "The records are as they were" in capsys.readouterr().out


def test_a_chosen_version_is_started_when_this_one_has_ended(tmp_path, monkeypatch, opened):
    asked = []
    place = ProgramPlace(tmp_path, "qcapp")

    def choose(self, _bound, _tell):
        self.chosen = place

    monkeypatch.setattr("qcapp.cli.runner.Runner.run", choose)
    monkeypatch.setattr("qcapp.cli.start.run_watched", lambda *words: asked.append(words) or 5)
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    open_store(Settings(database_url=url)).close()
    port = find_free_port()
    assert run("start", "--port", port, "--no-browser", database=url).returncode == 5
    assert asked[0][:2] == (place, ["start", "--port", str(port), "--no-browser"])


def test_second_start_opens_the_running_one_and_makes_no_yard(tmp_path, opened):
    yard = open_yard()
    hello = yard.client.get("/api/sync/hello")
    assert hello.json().keys() >= start.OF_A_GREETING
    with answering("application/json", hello.content) as port:
        done = run("start", "--port", port, database=f"sqlite:///{tmp_path / 'none.db'}")
    assert done.returncode == 0 and "running already" in done.stdout
    assert opened == [f"http://127.0.0.1:{port}/laptop"]
    assert not (tmp_path / "none.db").exists()


@pytest.mark.parametrize("body", [b"<html>", b"[1]", b'"protocol"', b"{}", b'{"protocol": 1}'])
def test_another_program_on_the_port_is_not_taken_for_it(tmp_path, opened, body):
    with answering("application/json", body) as port:
        done = run("start", "--port", port, database=f"sqlite:///{tmp_path / 'none.db'}")
    assert done.returncode == 1 and opened == []
    assert f"127.0.0.1:{port}" in done.stderr and "stop the program" in done.stderr


def test_a_port_without_a_program_is_not_running():
    assert not start.is_running(find_free_port())


def test_error_stays_on_the_screen_after_a_double_click(monkeypatch, capsys):
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    monkeypatch.setattr(sys, "stdin", mock.Mock(isatty=lambda: True))
    asked = []
    monkeypatch.setattr("builtins.input", asked.append)
    with pytest.raises(SystemExit) as ended, start.window_kept_open():
        raise StartError("cannot listen", "127.0.0.1:8000", "stop it")
    assert ended.value.code == 1 and len(asked) == 1
    assert "cannot listen" in capsys.readouterr().err


def test_in_a_terminal_an_error_ends_the_command_as_all_others_do():
    with pytest.raises(StartError), start.window_kept_open():
        raise StartError("cannot listen", "127.0.0.1:8000", "stop it")
