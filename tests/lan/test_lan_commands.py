"""init, check, move and serve --lan as a person gives them: one line of error, exit codes,
nothing half-done.
"""

import json
import sys
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import update

from qcapp.access.devices import join_device, make_join_code
from qcapp.cli import main
from qcapp.lan import clock
from qcapp.settings import Settings
from qcapp.store.registry.devices import note_contact
from qcapp.store.tables import DEVICE
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.open_store import open_store
from qcapp.web.phone.app_files import load_shell
from tests.builders import PHONE_IDS

pytestmark = pytest.mark.slow

INIT = ("lan", "init", "--address", "127.0.0.9")


@pytest.fixture
def command(monkeypatch, tmp_path, capsys):
    """Call it with the words after `qcapp`: (exit code, stdout, stderr);
    every call in the same folder.
    """
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("QCAPP_DATABASE_URL", f"sqlite:///{tmp_path / 'yard.sqlite3'}")

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["qcapp", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main.run()
        return (ended.value.code or 0, *capsys.readouterr())

    return run


def make_phone_id(name: str) -> str:
    return f"{PHONE_IDS}{name.encode().hex()[-12:]}"


def join_phone(**said) -> None:
    """A phone that said this of itself at its last contact."""
    store, now = open_store(Settings()), datetime.now(UTC)
    name = said.pop("name", "Phone 1")
    code = make_join_code(store, name=name, minutes=15, now=now)
    device_id = make_phone_id(name)
    join_device(store, code=code, device_id=device_id, now=now)
    with store.writing() as connection:
        note_contact(connection, device_id, **{"last_seen_at": format_timestamp(now), **said})
    store.close()


def test_init_shows_the_backup_sheet_once_and_check_is_content(command, tmp_path):
    code, out, err = command(*INIT)
    assert (
        (code, err) == (0, "") and out.count("PRIVATE KEY") == 2 and "https://127.0.0.9:8443" in out
    )
    code, out, _err = command("lan", "check", "--json")
    found = json.loads(out)
    assert code == 0 and found["faults"] == [] and found["is_here"] is True
    assert (found["certificate_days_left"], found["authority_days_left"]) == (394, 3647)
    assert "PRIVATE" not in out + command("lan", "check")[1]


def test_second_init_is_refused_in_one_line(command):
    command(*INIT)
    code, out, err = command("lan", "init", "--address", "127.0.0.8")
    assert (
        code == 1
        and out == ""
        and err.count("\n") == 1
        and "made only once" in err
        and "qcapp lan move" in err
    )


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("lan", "init", "--address", "8.8.8.8"), "private network"),
        (("lan", "init", "--address", "10.42.0.1", "--range", "10.0.0.0/7"), "beyond private"),
        (("lan", "init", "--address", "10.42.0.1", "--name", "yard.local"), ".local"),
        (("lan", "init", "--address", "10.42.0.1", "--port", "8080"), "two ports"),
        (("lan", "init", "--address", "10.42.0.1", "--restore", "nowhere.txt"), "cannot be read"),
        (("lan", "check"), "qcapp lan init"),
        (("lan", "move", "--to", "10.42.0.7"), "qcapp lan init"),
        (("serve", "--lan"), "qcapp lan init"),
        (("serve", "--lan", "--hsts-days", "30"), "--hsts-days"),
    ],
)
def test_bad_input_is_one_line_and_makes_nothing(command, tmp_path, words, says):
    code, out, err = command(*words)
    assert code == 1 and out == "" and err.count("\n") == 1 and says in err
    assert not (tmp_path / "qcapp" / "qcapp-lan").exists()


def test_clock_before_the_build_date_stops_init_and_serve(command, monkeypatch, tmp_path):
    command(*INIT)
    monkeypatch.setattr(clock, "BUILT_AT", datetime.now(UTC) + timedelta(days=1))
    for words in ((*INIT, "--folder", "other"), ("serve", "--lan")):
        code, _out, err = command(*words)
        assert code == 1 and err.count("\n") == 1 and "set the clock" in err
    assert not (tmp_path / "other").exists()
    assert "set the clock" in command("lan", "check")[1]


def test_restored_authority_is_the_same(command, tmp_path):
    sheet = command(*INIT)[1]
    (tmp_path / "sheet.txt").write_text(sheet, encoding="utf-8")
    before = json.loads(command("lan", "check", "--json")[1])["fingerprint"]
    code, out, _err = command(
        "lan", "init", "--address", "127.0.0.7", "--restore", "sheet.txt", "--folder", "new"
    )
    assert code == 0 and "PRIVATE KEY" not in out
    assert (
        json.loads(command("lan", "check", "--folder", "new", "--json")[1])["fingerprint"] == before
    )
    code, _out, err = command(
        "lan", "init", "--address", "10.42.0.1", "--restore", "sheet.txt", "--folder", "third"
    )
    assert code == 1 and "may not vouch" in err


def test_check_tells_of_each_phone_its_contact_unsent_build_and_clock(command):
    command(*INIT)
    build = load_shell(Settings().static_dir).build
    join_phone(
        name="Phone 1", created=12, acked=9, unsent=3, app_build=build, clock_offset_ms=-180_000
    )
    join_phone(name="Phone 2", created=4, acked=4, app_build="older", clock_offset_ms=0)
    code, out, _err = command("lan", "check")
    first, second = [line for line in out.splitlines() if line.startswith("  Phone")]
    assert (
        code == 0 and "unsent 3" in first and f"build {build}," in first and "clock -3 min" in first
    )
    assert "unsent 0" in second and "not the current one" in second and "last contact 20" in second


def test_check_doubts_this_machines_clock_when_all_phones_differ_alike(command):
    command(*INIT)
    day_ms = 86_400_000
    for number, offset in enumerate((2 * day_ms, 3 * day_ms)):
        join_phone(name=f"Phone {number}", clock_offset_ms=offset)
    code, out, _err = command("lan", "check")
    assert code == 1 and "check this machine's date" in out
    store = open_store(Settings())
    with store.writing() as connection:
        connection.execute(
            update(DEVICE)
            .where(DEVICE.c.id == make_phone_id("Phone 1"))
            .values(clock_offset_ms=-day_ms)
        )
    assert command("lan", "check")[0] == 0


def test_check_says_that_the_address_is_gone(command):
    command("lan", "init", "--address", "10.255.255.254")
    code, out, _err = command("lan", "check")
    assert code == 1 and "does not have the address 10.255.255.254" in out
    code, _out, err = command("serve", "--lan")
    assert code == 1 and err.count("\n") == 1 and "restore the old address" in err


def test_start_under_another_origin_needs_the_move_command(command):
    command(*INIT)
    join_phone(created=12, acked=9, unsent=3)
    code, _out, err = command("serve", "--lan", "--host", "127.0.0.8")
    assert (
        code == 1
        and err.count("\n") == 1
        and "let every phone send first" in err
        and "qcapp lan move --to 127.0.0.8" in err
    )
    code, out, err = command("lan", "move", "--to", "127.0.0.8")
    assert code == 1 and "--yes" in err and "unsent 3" in out
    assert all(
        words in out for words in ("every phone send first", "restore the old address", "as a file")
    )
    assert json.loads(command("lan", "check", "--json")[1])["origin"] == "https://127.0.0.9:8443"
    assert command("lan", "move", "--to", "127.0.0.8", "--yes")[0] == 0
    assert json.loads(command("lan", "check", "--json")[1])["origin"] == "https://127.0.0.8:8443"
    assert "outside 127.0.0.0/8" in command("lan", "move", "--to", "10.0.0.1", "--yes")[2]
