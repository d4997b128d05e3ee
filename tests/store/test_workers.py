"""Several processes on one port over one PostgreSQL: they take each other's records in;
SQLite has one process only.
"""

import json
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from qcapp.access.devices import join_device, make_join_code
from qcapp.settings import Settings
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.registry.people import save_people
from qcapp.usecases.open_store import open_store
from tests.builders import BATCHES, NOW, PEOPLE, ROOT, Phone, build_push, build_small_checklist
from tests.programs import list_measuring

pytestmark = pytest.mark.slow

WORKERS = 2


@pytest.fixture
def url(cluster):
    url = cluster.create_database()
    yield url
    cluster.drop(url)


def find_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


def call(address: str, token: str, body=None) -> dict:
    request = urllib.request.Request(
        address,
        data=body and json.dumps(body).encode(),
        headers={"Authorization": f"Bearer {token}"},
    )
    with urllib.request.urlopen(request, timeout=20) as answer:
        return {**json.load(answer), "server": answer.headers.get("server")}


def wait_until_it_answers(base: str, process) -> None:
    for _ in range(400):
        try:
            urllib.request.urlopen(f"{base}/phone/", timeout=5).close()
            return
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            assert process.poll() is None, "the server ended"
            time.sleep(0.1)
    pytest.fail("the server never answered")


def join_phone(url: str) -> tuple[str, Phone]:
    store, checklist = open_store(Settings(database_url=url)), build_small_checklist()
    with store.writing() as connection:
        publish_checklist(connection, checklist, origin="file", now="t")
        save_people(connection, PEOPLE)
        save_batches(connection, BATCHES)
    phone = Phone(checklist)
    token = join_device(
        store,
        code=make_join_code(store, name="Phone", minutes=15, now=NOW),
        device_id=phone.device_id,
        now=NOW,
    ).token
    store.close()
    return token, phone


def test_several_workers_serve_one_log(url, tmp_path):
    token, phone = join_phone(url)
    port = find_port()
    command = [
        sys.executable,
        "-m",
        "qcapp",
        "serve",
        "--port",
        str(port),
        "--workers",
        str(WORKERS),
    ]
    surroundings = {
        **list_measuring(),
        "PATH": "",
        "PYTHONPATH": str(ROOT),
        "QCAPP_DATABASE_URL": url,
        "QCAPP_KEY_FILE": str(tmp_path / "key.pem"),
    }
    with subprocess.Popen(
        command, env=surroundings, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, cwd=tmp_path
    ) as process:
        try:
            wait_until_it_answers(f"http://127.0.0.1:{port}", process)
            heads = [
                call(
                    f"http://127.0.0.1:{port}/api/sync/push",
                    token,
                    build_push([phone.inspect(f"B1-{number:03}")]),
                )["head"]["seq"]
                for number in range(1, 13)
            ]
            hello = call(f"http://127.0.0.1:{port}/api/sync/hello", token)
            children = count_children(process.pid)
        finally:
            process.send_signal(signal.SIGINT)
            said = process.stdout.read().decode()
            code = process.wait(30)
    assert heads == sorted(set(heads)) and hello["head"]["seq"] == heads[-1]
    assert children >= WORKERS
    assert code in (0, 130) and "Traceback" not in said


def count_children(parent: int) -> int:
    """Live processes whose parent this is, as Linux tells it."""
    return len(Path(f"/proc/{parent}/task/{parent}/children").read_text().split())


def test_a_sqlite_yard_is_served_by_one_process(tmp_path):
    surroundings = {
        **list_measuring(),
        "PATH": "",
        "PYTHONPATH": str(ROOT),
        "QCAPP_DATABASE_URL": f"sqlite:///{tmp_path / 'yard.db'}",
    }
    done = subprocess.run(
        [sys.executable, "-m", "qcapp", "serve", "--workers", "2"],
        env=surroundings,
        check=False,
        capture_output=True,
        text=True,
        cwd=tmp_path,
    )
    assert done.returncode == 1
    assert (
        "qcapp move" in done.stderr
        and "one process" in done.stderr
        and not (tmp_path / "yard.db").exists()
    )
