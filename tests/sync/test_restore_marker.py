"""After qcapp restore every phone that saw no later record is asked once for all it has,
also where the log looks the same.
"""

import json
import os
import subprocess
import sys

import pytest

from qcapp.store import log
from qcapp.store.upkeep.backup import back_up
from qcapp.sync.restore_marker import note_restore
from tests.builders import NOW, Phone, Yard, build_push
from tests.sync.test_restore import IDS, Pocket, Server

pytestmark = pytest.mark.slow


def ask(server, pocket):
    """What an empty push of the phone is answered."""
    return server.client.post(
        "/api/sync/push", json=build_push([], have=pocket.have), headers=pocket.headers
    ).json()


def start(tmp_path, count=2):
    server = Server(tmp_path)
    yard = Yard(server.client, server.store, server.checklist, None, {})
    pockets = [
        Pocket(Phone(server.checklist, device_id), yard.pair(device_id))
        for device_id in IDS[:count]
    ]
    for n, pocket in enumerate(pockets):
        pocket.inspect(f"B1-00{n}")
        pocket.sync(server.client)
    return server, pockets


def test_phone_is_asked_once_though_no_record_came_after_the_backup(tmp_path):
    server, pockets = start(tmp_path)
    back_up(server.url, tmp_path / "old.db")
    server.put_back(tmp_path / "old.db")
    # Nobody wrote after the backup: by the log alone nothing is amiss, whatever photos came since.
    assert [ask(server, pocket)["lineage"] for pocket in pockets] == ["ok", "ok"]
    assert note_restore(server.store, by="terminal", now=NOW) == 2
    for pocket in pockets:
        assert [ask(server, pocket)["lineage"] for _again in range(2)] == [
            "diverged",
            "diverged",
        ], "asked until it has heard it"
        pocket.sync(server.client)
        assert pocket.have["seq"] == 3
        assert ask(server, pocket)["lineage"] == "ok", "and not again"
    assert sorted(server.list_ids()[:2]) == sorted(
        event["id"] for pocket in pockets for event in pocket.made
    )
    assert len(server.list_ids()) == 3, "nothing twice, and the line of the trail"
    server.client.__exit__(None, None, None)


def test_phone_that_saw_the_later_record_is_left_alone(tmp_path):
    server, (first, _other) = start(tmp_path)
    note_restore(server.store, by="terminal", now=NOW)
    first.have = None
    first.sync(server.client)
    assert first.have["seq"] == 3 and ask(server, first)["lineage"] == "ok"
    note_restore(server.store, by="terminal", now=NOW)
    assert ask(server, first)["lineage"] == "diverged", "a second time is a second reason"
    server.client.__exit__(None, None, None)


def run(*words, url):
    return subprocess.run(
        [sys.executable, "-m", "qcapp", *map(str, words)],
        env={**os.environ, "QCAPP_DATABASE_URL": url},
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )


def test_command_says_it_to_phones_and_in_the_trail(tmp_path):
    server, (first, _other) = start(tmp_path)
    back_up(server.url, tmp_path / "old.db")
    server.client.__exit__(None, None, None)
    server.store.close()
    done = run("restore", tmp_path / "old.db", url=server.url)
    assert (
        done.returncode == 0
        and "2 records are in place" in done.stdout
        and "photos too" in done.stdout
    ), done.stderr
    server.start()
    assert ask(server, first)["lineage"] == "diverged"
    with server.store.reading() as connection:
        (line,) = log.list_trail(connection, before=2**53, limit=5)
    event = json.loads(line.raw)
    assert (event["inspector"], event["body"]) == (
        "terminal",
        {"action": "backup_restored", "about": {"number": "2"}},
    )
    server.client.__exit__(None, None, None)


def test_what_was_put_back_by_other_means_is_noted_by_hand(tmp_path):
    server, _pockets = start(tmp_path)
    server.client.__exit__(None, None, None)
    server.store.close()
    for words in (("restore",), ("restore", tmp_path / "old.db", "--by-hand")):
        refused = run(*words, url=server.url)
        assert refused.returncode == 1 and "--by-hand alone" in refused.stderr
    assert json.loads(run("restore", "--by-hand", "--json", url=server.url).stdout) == {
        "records": 2
    }
    assert json.loads(run("restore", "--by-hand", "--json", url=server.url).stdout) == {
        "records": 3
    }
