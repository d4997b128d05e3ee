"""The commands that start a server: what they print, and the app that they would serve."""

import re
from unittest import mock

import pytest
from fastapi.testclient import TestClient

from tests.access.test_programme import FILE
from tests.cli.test_cli import run

pytestmark = pytest.mark.slow
LINK = r"(http\S+)/welcome/[\w-]+"


def serve(*words, **more):
    """(what the command printed, the app it gave to the web server, how that should listen)."""
    with (
        mock.patch("qcapp.cli.listening.BoundedServer") as served,
        mock.patch("socket.socket.bind"),
    ):
        done = run(*words, **more)
    assert done.returncode == 0, done.stderr
    (config,), _none = served.call_args
    (sockets,), _none = served.return_value.run.call_args
    assert len(sockets) == 1
    return done.stdout, config.app, vars(config)


def test_new_yard_is_greeted_with_the_link_of_its_first_lead(tmp_path):
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    said, app, options = serve("serve", "--new", "--port", 8123, database=url)
    assert re.search(LINK, said)[1] == "http://127.0.0.1:8123"
    assert options["forwarded_allow_ips"] == ["127.0.0.1", "::1"]
    token = re.search(r"/welcome/[\w-]+", said)[0]
    client = TestClient(app, base_url="http://127.0.0.1:8123", client=("127.0.0.1", 1))
    assert client.get(token).status_code == 200
    assert client.get("/trainer").status_code == 401, "a real yard asks for a password"


def test_behind_a_proxy_links_and_headers_are_those_of_https(tmp_path):
    words = ("--host", "10.0.0.1", "--proxy", "10.0.0.2", "--address", "https://yard.example")
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    said, app, options = serve("serve", "--new", *words, "--hsts-days", 2, database=url)
    assert re.search(LINK, said)[1] == "https://yard.example"
    assert options["forwarded_allow_ips"] == ["127.0.0.1", "::1", "10.0.0.2"]
    answer = TestClient(app, base_url="https://yard.example").get("/sign-in")
    assert answer.headers["Strict-Transport-Security"] == "max-age=172800"
    plain = TestClient(app, base_url="http://yard.example").get("/sign-in")
    assert plain.status_code == 421


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--lan", "--hsts-days", "1"), "--lan has its own https"),
        (("--lan", "--workers", "2"), "one process"),
        (("--workers", "2"), "one process"),
        (("--host", "10.0.0.1", "--proxy", "my-proxy"), "not an IP address"),
        (("--address", "yard.example"), "not the address of a server"),
    ],
)
def test_what_cannot_be_served_is_one_line(words, says, tmp_path):
    with mock.patch("qcapp.cli.listening.BoundedServer") as served:
        done = run("serve", *words, "--port", 0, database=f"sqlite:///{tmp_path / 'yard.db'}")
    assert done.returncode == 1 and says in done.stderr and done.stderr.count("\n") == 1
    served.assert_not_called()


def test_programme_greets_each_yard_and_holds_its_databases_while_it_runs(tmp_path):
    file = tmp_path / "programme.yaml"
    file.write_text(FILE)
    said, app, _options = serve("programme", file)
    assert re.findall(LINK, said) == [
        "http://programme.example",
        "http://north.example",
        "http://south.example",
    ]
    with TestClient(app, base_url="http://north.example") as client:
        assert client.get("/sign-in").status_code == 200
        held = run("restore", tmp_path / "south.db", database=f"sqlite:///{tmp_path / 'north.db'}")
        assert held.returncode == 1 and "north.db" in held.stderr
    assert TestClient(app, base_url="http://other.example").get("/").status_code == 421
    missing = run("programme", tmp_path / "none.yaml")
    assert missing.returncode == 1 and "cannot be read" in missing.stderr


def test_demo_is_open_to_this_machine_alone_at_the_addresses_it_prints(tmp_path):
    url = f"sqlite:///{tmp_path / 'demo.db'}"
    said, app, _options = serve("demo", "--port", 8124, database=url)
    assert re.search(r"^\d+ stoves in \d+ batches, \d+ records$", said, re.MULTILINE)
    here = TestClient(app, base_url="http://127.0.0.1:8124", client=("127.0.0.1", 1))
    for person in ("trainer", "buyer", "yard lead", "phones"):
        address = re.search(rf"{person} +http://127.0.0.1:8124(\S+)", said)[1]
        assert here.get(address).status_code == 200, person
    code = re.search(r"#join=(\w+)", said)[1]
    joining = {"code": code, "device_id": "0197f000-0000-7000-8000-0000000000cc"}
    assert here.post("/api/devices/enrol", json=joining).status_code in (200, 201)
    elsewhere = TestClient(app, base_url="http://127.0.0.1:8124", client=("10.0.0.9", 1))
    assert elsewhere.get("/trainer").status_code == 401
