"""Builders for tests: a small checklist, a small yard, sealed events, a paired client."""

import functools
import itertools
import sqlite3
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from fastapi.testclient import TestClient

from qcapp.access.devices import join_device, make_join_code
from qcapp.access.sessions import open_session
from qcapp.app import create_app
from qcapp.checklist.model import Checklist
from qcapp.inspection.event import EventContent, seal_event
from qcapp.inspection.judge import judge_answers
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.store.log import ensure_server_id
from qcapp.store.registry.accounts import save_account
from qcapp.store.registry.batches import save_batches
from qcapp.store.registry.checklists import publish_checklist
from qcapp.store.registry.drawings import keep_drawings
from qcapp.store.registry.people import save_people
from qcapp.store.upkeep.migrate import migrate
from qcapp.usecases.open_store import read_shown
from tests.compiled import share_compiled
from tests.signing_phones import introduce, sign

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
PHONE_IDS = "0197f000-0000-7000-8000-"
ROOT = Path(__file__).resolve().parent.parent


def _limits(lower, nominal, upper, guard):
    return {
        "lower": lower,
        "nominal": nominal,
        "upper": upper,
        "accept_lower": None if lower is None else lower + guard,
        "accept_upper": None if upper is None else upper - guard,
    }


def _check(check_id, part, step, severity, **kind):
    words = {
        "ask": {"en": check_id},
        "how": {"en": "look"},
        "caution": None,
        "basis": "made for tests",
        "when": {},
    }
    faults = [
        {"id": "too-large", "title": {"en": "Too large"}, "side": "above"},
        {"id": "bad", "title": {"en": "Bad"}, "side": None},
    ]
    return {
        "id": check_id,
        "part": part,
        "step": step,
        "severity": severity,
        **words,
        "faults": faults,
        **kind,
    }


def build_small_checklist(revision: int = 1) -> Checklist:
    """Three checks: a critical tick, a measured width 97..103 (guard 1), a minor tick."""
    number = {
        "unit": "mm",
        "resolution": 1,
        "uncertainty": 1,
        "decision": "simple",
        "possible": {"lower": 0, "upper": 400},
    }
    return Checklist.from_compiled(
        {
            "id": "small-stove",
            "revision": revision,
            "title": {"en": "Small stove"},
            "stage": "finished",
            "drawing": "round-stove.svg",
            "sizes": ["medium"],
            "parts": [
                {"id": "edge", "title": {"en": "Edge"}},
                {"id": "door-opening", "title": {"en": "Door opening"}},
            ],
            "steps": [
                {"id": "turn-edge", "trade": "metalwork", "title": {"en": "Turn the edge"}},
                {
                    "id": "cut-door-opening",
                    "trade": "metalwork",
                    "title": {"en": "Cut the door opening"},
                },
            ],
            "checks": [
                _check("sharp-edge", "edge", "turn-edge", "critical", kind="tick"),
                _check(
                    "door-opening-width",
                    "door-opening",
                    "cut-door-opening",
                    "major",
                    kind="measure",
                    **number,
                    limits={"medium": _limits(97, 100, 103, 1)},
                ),
                _check("dents", "edge", "turn-edge", "minor", kind="tick", may_not_apply=True),
            ],
        }
    )


PEOPLE = [
    {
        "code": "A01",
        "name": "Ano",
        "trades": ["metalwork"],
        "started_on": "2020-01-01",
        "is_inspector": False,
    },
    {
        "code": "A02",
        "name": "Beda",
        "trades": ["metalwork"],
        "started_on": "2026-10-01",
        "is_inspector": False,
    },
    {"code": "I01", "name": "Ciro", "trades": [], "started_on": None, "is_inspector": True},
]
# Not in every yard.
SECOND_INSPECTOR = {
    "code": "I02",
    "name": "Dodo",
    "trades": [],
    "started_on": None,
    "is_inspector": True,
}
BATCHES = [
    {
        "code": "B1",
        "title": "First",
        "size": "medium",
        "planned": 20,
        "attributes": {"painted": False},
        "crew": {"metalwork": "A01"},
        "checklist_ids": ["small-stove"],
        "serial_prefix": "B1-",
        "opened_on": "2026-11-01",
        "closed_at": None,
    },
    {
        "code": "B0",
        "title": "Closed",
        "size": "medium",
        "planned": 5,
        "attributes": {},
        "crew": {},
        "checklist_ids": ["small-stove"],
        "serial_prefix": "B0-",
        "opened_on": "2026-09-01",
        "closed_at": "2026-10-01T00:00:00.000Z",
    },
]


def make_url(path: Path | None) -> str:
    """Tests that run on both engines put another maker in this place (conftest.py)."""
    return f"sqlite:///{path}" if path else "sqlite:///:memory:"


@functools.cache
def open_template() -> Store:
    """An empty database of the newest shape, to copy: nearly every test asks for one."""
    store = Store("sqlite:///:memory:")
    migrate(store)
    return store


def get_driver_connection(store: Store) -> sqlite3.Connection:
    """Of a database in memory, which has one."""
    with store.engine.connect() as connection:
        return connection.connection.driver_connection


def open_small_store(path: Path | None = None) -> tuple[Store, Checklist]:
    store = Store(make_url(path))
    if store.is_sqlite:
        share_compiled(store, open_template())
    if store.url == "sqlite:///:memory:":
        get_driver_connection(open_template()).backup(get_driver_connection(store))
    migrate(store)
    checklist = build_small_checklist()
    with store.writing() as connection:
        ensure_server_id(connection)
        publish_checklist(connection, checklist, origin="file", now="2026-11-01T00:00:00.000Z")
        keep_drawings(connection, checklist.hash, read_shown(ROOT / "checklists", checklist))
        save_people(connection, PEOPLE)
        save_batches(connection, BATCHES)
    return store, checklist


@dataclass
class Phone:
    """Makes sealed events as a phone does: gapless numbers, own id."""

    checklist: Checklist
    device_id: str = "0197f000-0000-7000-8000-0000000000aa"
    numbers: itertools.count = field(default_factory=lambda: itertools.count(1))

    def inspect(
        self,
        stove: str,
        *,
        width="100",
        edge="pass",
        dents="pass",
        maker="A01",
        disposition="release",
        at="2026-11-24T08:00:00.000Z",
        **change,
    ) -> dict:
        answers = {
            "sharp-edge": {"mark": edge},
            "door-opening-width": {"values": [width]},
            "dents": {"mark": dents},
        }
        judged = judge_answers(
            self.checklist, answers, {"size": "medium", "batch": {"painted": False}}
        )
        chosen = (
            {"kind": disposition}
            if disposition in ("release", "rework")
            else {"kind": disposition, "reason": "as agreed"}
        )
        body = {
            "size": "medium",
            "batch_attributes": {"painted": False},
            "started_at": at,
            "crew": {step.id: maker for step in self.checklist.steps},
            "answers": answers,
            "verdicts": {key: found.verdict for key, found in judged.items()},
            "disposition": chosen,
        }
        return self.seal("inspection", stove, body, at=at, **change)

    def correct(self, target: dict, replacement: dict, reason="wrong stove picked up") -> dict:
        body = {"reason": reason, "replacement": replacement}
        return self.seal("correction", target["stove"], body, corrects=target["id"])

    def void(self, target: dict, reason="entered twice") -> dict:
        return self.seal("void", target["stove"], {"reason": reason}, corrects=target["id"])

    def seal(
        self,
        kind: str,
        stove: str,
        body: dict,
        *,
        at="2026-11-24T09:00:00.000Z",
        corrects=None,
        **change,
    ) -> dict:
        number = next(self.numbers)
        content = EventContent(
            id=f"0197f000-0000-7000-8000-{self.device_id[-4:]}{number:08x}",
            kind=kind,
            device_id=self.device_id,
            dev_seq=number,
            inspector="I01",
            captured_at=at,
            app_build="test",
            body=body,
            batch="B1",
            stage="finished",
            stove=stove,
            checklist=self.checklist.key,
            checklist_hash=self.checklist.hash,
            tz_min=120,
            corrects=corrects,
        )
        return seal_event({**content.seal(), **change})


def build_push(events: list, **change) -> dict:
    return {
        "protocol": 1,
        "request_id": "r1",
        "have": None,
        "device": {"id": "x", "created": len(events), "acked": 0},
        "events": events,
        **change,
    }


@dataclass
class Yard:
    """A server in this process with one paired phone."""

    client: TestClient
    store: Store
    checklist: Checklist
    phone: Phone
    headers: dict
    signing: set[str] = field(default_factory=set)

    def push(self, *events, **change) -> dict:
        """What other phones of the tests made comes with their signatures, as relayed work does."""
        others = {name for event in events if (name := self._find_other(event))}
        for name in sorted(others - self.signing):
            introduce(self.store, name, NOW)
        self.signing |= others
        signatures = [sign(event) if self._find_other(event) else None for event in events]
        return self.push_as_it_is(
            *events, **({"signatures": signatures} if others else {}), **change
        )

    def push_as_it_is(self, *events, **change) -> dict:
        answer = self.client.post(
            "/api/sync/push", json=build_push(list(events), **change), headers=self.headers
        )
        assert answer.status_code == 200, answer.text
        return answer.json()

    def _find_other(self, event) -> str | None:
        name = event.get("device_id") if isinstance(event, dict) else None
        is_other = str(name).startswith(PHONE_IDS) and name != self.phone.device_id
        return name if is_other and isinstance(event.get("hash"), str) else None

    def pair(self, device_id: str, secret: str | None = None) -> dict:
        """A phone that has no key. secret: by which it is known when it begins anew."""
        code = make_join_code(self.store, name="Phone", minutes=15, now=NOW)
        joined = join_device(self.store, code=code, device_id=device_id, now=NOW, secret=secret)
        return {"Authorization": f"Bearer {joined.token}"}


def make_cookie(
    store: Store, *, code: str = "LEAD", role: str = "yard_lead", now: datetime = NOW
) -> str:
    """A session's cookie for an account of this role, as a sign-in would give it;
    the account has no usable password.
    """
    with store.writing() as connection:
        save_account(
            connection,
            code=code,
            name=f"{code} name",
            role=role,
            password_hash="none",
            now="2026-11-01T00:00:00.000Z",
        )
        return open_session(connection, code, now)


def open_client(
    app,
    *,
    cookie: str | None = None,
    address: str = "http://testserver",
    caller: str = "testclient",
) -> TestClient:
    """A browser on a page of this server; with a cookie it is signed in. caller: where it runs."""
    client = TestClient(
        app,
        base_url=address,
        client=(caller, 50_000),
        headers={"Sec-Fetch-Site": "same-origin"},
        raise_server_exceptions=False,
        follow_redirects=True,
    )
    if cookie:
        client.cookies.set("__Host-qcapp" if address.startswith("https") else "qcapp", cookie)
    return client


def open_yard(key_folder: Path | None = None) -> Yard:
    """With a yard lead signed in. key_folder: where the yard's key is made;
    needed by tests that issue a summary.
    """
    store, checklist = open_small_store()
    key_file = (key_folder or Path("nowhere")) / "key.pem"
    settings = Settings(
        static_dir=ROOT / "static",
        checklists_dir=ROOT / "checklists",
        yard_name="Test yard",
        key_file=key_file,
    )
    client = open_client(create_app(settings, store, clock=lambda: NOW), cookie=make_cookie(store))
    yard = Yard(client, store, checklist, Phone(checklist), {})
    yard.headers = yard.pair(yard.phone.device_id)
    return yard
