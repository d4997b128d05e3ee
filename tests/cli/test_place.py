"""Nothing vanishes: one folder of a user, named by every start; no empty yard by a slip; no new key
in the place of one that signed; files for their owner alone.
"""

import os
import socket
import stat
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from qcapp.cli.listening import listening
from qcapp.errors import StartError
from qcapp.settings import Settings
from qcapp.store.registry.batches import get_batch
from qcapp.usecases.issue_summary import issue_summary
from qcapp.usecases.open_store import open_store
from qcapp.usecases.yard_key import refuse_missing_key
from tests.access.test_programme import FILE
from tests.builders import NOW, open_client, open_yard
from tests.cli.test_cli import ROOT, run
from tests.cli.test_cli_serve import serve
from tests.e2e.server import find_free_port

pytestmark = pytest.mark.slow

COMMANDS = [
    ("account", "link"),
    ("account", "list"),
    ("person", "export", "A01"),
    ("person", "erase", "A01", "--yes"),
    ("checklist", "show", "finished-stove"),
    ("export", "stoves"),
    ("rebuild",),
    ("verify", "--log"),
    ("backup", "copy.db"),
    ("import", __file__),
    ("yard", str(ROOT / "demo" / "scenario.yaml")),
    ("serve", "--port", "0"),
]


def test_default_place_is_one_folder_of_the_user_wherever_a_command_starts(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    found = []
    for place in ("one", "two"):
        (tmp_path / place).mkdir()
        monkeypatch.chdir(tmp_path / place)
        settings = Settings()
        found.append((settings.database_url, settings.key_file))
    assert found[0] == found[1]
    path = Path(found[0][0].removeprefix("sqlite:///"))
    assert path.is_absolute() and path.parent == found[0][1].parent
    if sys.platform == "linux":
        assert path == tmp_path / "data" / "qcapp" / "qcapp.db"


@pytest.mark.parametrize("words", COMMANDS, ids=lambda words: " ".join(words[:2])[:20])
def test_no_command_makes_an_empty_yard_where_the_named_one_is_not(tmp_path, words):
    here = tmp_path / "elsewhere"
    done = run(*words, database=f"sqlite:///{here / 'yard.db'}")
    assert done.returncode == 1 and "there is no" in done.stderr, done.stderr
    assert not here.exists()


def test_every_start_names_its_place_and_says_when_the_yard_is_new(tmp_path):
    file = tmp_path / "yard.db"
    url = f"sqlite:///{file}"
    said, _app, _options = serve("serve", "--new", "--port", find_free_port(), database=url)
    assert f"Records are kept in {file}" in said and "a new, empty one is made" in said
    again, _app, _options = serve("serve", "--port", find_free_port(), database=url)
    assert f"Records are kept in {file}" in again and "empty" not in again
    programme = tmp_path / "programme.yaml"
    programme.write_text(FILE)
    said, _app, _options = serve("programme", programme, "--port", find_free_port())
    assert f"records in {tmp_path / 'north.db'}" in said


@pytest.mark.skipif(os.name != "posix", reason="files have no such modes there")
def test_database_files_are_their_owners_alone(tmp_path):
    file = tmp_path / "new" / "yard.db"
    mask = os.umask(0)
    try:
        store = open_store(Settings(database_url=f"sqlite:///{file}"))
        store.hold()
        kept = list(file.parent.iterdir())
        assert len(kept) == 3, "the write-ahead log and its index lie beside it"
        assert {stat.S_IMODE(path.stat().st_mode) for path in kept} == {0o600}
        assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700
        store.close()
        file.chmod(0o644)
        open_store(Settings(database_url=f"sqlite:///{file}")).close()
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
    finally:
        os.umask(mask)


def issue_one(tmp_path):
    yard = open_yard(tmp_path)
    yard.push(yard.phone.inspect("B1-001"))
    answer = yard.client.post("/batches/B1/summaries", follow_redirects=False)
    assert answer.status_code == 303
    return yard


def test_missing_key_of_issued_summaries_is_refused_with_how_to_bring_it_back(tmp_path):
    yard = issue_one(tmp_path)
    key = tmp_path / "key.pem"
    kept = key.read_bytes()
    key.unlink()
    with pytest.raises(StartError) as refused:
        refuse_missing_key(yard.store, key)
    assert "backup" in refused.value.todo and "--new-key" in refused.value.todo
    # Nor by any page of the server that runs on.
    link = yard.client.post(
        "/batches/B1/links", data={"label": "buyer"}, follow_redirects=True
    ).text
    address = link.split("http://testserver/s/")[1].split("<")[0].split('"')[0]
    assert yard.client.get(f"/s/{address}/verify").status_code == 500
    yard.push(yard.phone.inspect("B1-002"))
    with yard.store.reading() as connection:
        batch = get_batch(connection, "B1")
    with pytest.raises(StartError):
        issue_summary(
            yard.store,
            yard.client.app.state.settings,
            batch,
            issued_by="LEAD",
            now=NOW,
        )
    assert not key.exists()
    key.touch(0o600)
    key.write_bytes(kept)
    assert yard.client.get(f"/s/{address}/verify").status_code == 200


def test_server_does_not_start_without_the_key_that_signed(tmp_path, monkeypatch):
    url, key = f"sqlite:///{tmp_path / 'yard.db'}", tmp_path / "key.pem"
    monkeypatch.setenv("QCAPP_KEY_FILE", str(key))
    serve("serve", "--new", "--port", find_free_port(), database=url)
    store = open_store(Settings(database_url=url))
    with store.writing() as connection:
        connection.exec_driver_sql(
            "INSERT INTO summary (batch, number, sha256, issued_at, seq, design, may_reduce,"
            " is_restart, proof) VALUES ('B1', 1, 'x', 't', 1, 'd', false, false, '{}')"
        )
    store.close()
    done = run("serve", "--port", find_free_port(), database=url)
    assert done.returncode == 1 and "key is not here" in done.stderr and not key.exists()
    said, _app, _options = serve("serve", "--new-key", "--port", find_free_port(), database=url)
    assert "public half" in said and key.exists()
    done = run("serve", "--new-key", "--port", find_free_port(), database=url)
    assert done.returncode == 1 and "has its key" in done.stderr


def test_address_is_printed_only_once_the_port_is_the_servers(tmp_path):
    with closing(socket.socket()) as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        url = f"sqlite:///{tmp_path / 'yard.db'}"
        for words in (("serve", "--new"), ("programme", tmp_path / "p.yaml")):
            (tmp_path / "p.yaml").write_text(FILE)
            done = run(*words, "--port", port, database=url)
            assert done.returncode == 1 and "cannot listen" in done.stderr, words
            assert "http://" not in done.stdout, words
    with listening("127.0.0.1", port) as bound:
        assert bound.getsockname()[1] == port
        with pytest.raises(StartError):
            listening("127.0.0.1", port).__enter__()


def test_started_process_prints_an_address_that_answers(tmp_path):
    port = find_free_port()
    environment = {
        **os.environ,
        "XDG_DATA_HOME": str(tmp_path),
        "PYTHONPATH": str(ROOT),
    }
    environment.pop("QCAPP_DATABASE_URL", None)
    command = [sys.executable, "-m", "qcapp", "serve", "--port", str(port)]
    with subprocess.Popen(
        command, cwd=tmp_path, env=environment, stdout=subprocess.PIPE, text=True
    ) as server:
        try:
            for line in server.stdout:
                if "qcapp is at" in line:
                    with closing(socket.create_connection(("127.0.0.1", port), timeout=5)):
                        break
            else:
                raise AssertionError("no address was printed")
        finally:
            server.terminate()
            server.stdout.close()
    assert (tmp_path / "qcapp" / "qcapp.db").exists()


def test_links_and_codes_name_the_configured_address_whatever_a_request_says(tmp_path):
    yard = issue_one(tmp_path)
    app = yard.client.app
    app.state.address = "https://yard.example/"
    strange = open_client(app, address="http://evil.example")
    strange.cookies.set("qcapp", yard.client.cookies["qcapp"])
    shown = {
        "/yard/join-codes": {"name": "New phone"},
        "/batches/B1/links": {"label": "buyer"},
        "/yard/accounts": {"role": "trainer", "code": "T1", "name": "Tina"},
    }
    for path, form in shown.items():
        page = strange.post(path, data=form).text
        assert "https://yard.example/" in page and "evil.example" not in page, path


@pytest.mark.skipif(sys.platform != "linux", reason="a unit of systemd")
def test_first_start_of_the_guides_service_makes_the_yard_in_its_own_folder(tmp_path, monkeypatch):
    unit = (ROOT / "static" / "guide" / "install.md").read_text(encoding="utf-8")
    given = dict(
        line.removeprefix("Environment=").split("=", 1)
        for line in unit.split("```ini\n")[1].split("```")[0].splitlines()
        if line.startswith("Environment=")
    )
    assert given == {"XDG_DATA_HOME": "/var/lib"}
    monkeypatch.setenv("XDG_DATA_HOME", given["XDG_DATA_HOME"])
    assert Settings().database_url == "sqlite:////var/lib/qcapp/qcapp.db"
    assert str(Settings().key_file) == "/var/lib/qcapp/qcapp-key.pem"
