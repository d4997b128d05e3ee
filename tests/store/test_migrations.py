"""A database of an older shape is brought up to date with what it holds."""

import json

from alembic import command
from sqlalchemy import text

from qcapp.store import log
from qcapp.store.engine import Store
from qcapp.store.registry import devices, people, photos
from qcapp.store.upkeep.migrate import _build_config, migrate
from tests.builders import Phone, build_small_checklist

NAMES = ["a" * 64, "b" * 64]


def make_first_shape(path) -> Store:
    store = Store(f"sqlite:///{path}")
    config = _build_config()
    with store.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        event = Phone(build_small_checklist()).inspect("B1-001", photos=NAMES)
        entry = log.Entry(
            event["id"],
            event["hash"],
            "counted",
            None,
            "inspection",
            "d1",
            1,
            "finished/B1-001",
            "B1",
            json.dumps(event, separators=(",", ":")),
        )
        log.ensure_server_id(connection)
        log.append(connection, [entry], received_at="t", relayed_by=None, clock_offset_ms=None)
        connection.execute(
            text(
                "INSERT INTO device (id, name, token_hash, joined_at, created, acked) VALUES ('d1',"
                " 'Phone', 'h', 't', 3, 3)"
            )
        )
    return store


def test_photos_named_before_are_shown_after(tmp_path):
    store = make_first_shape(tmp_path / "a.db")
    migrate(store)
    with store.reading() as connection:
        assert [photos.is_named(connection, name) for name in (*NAMES, "c" * 64)] == [
            True,
            True,
            False,
        ]


def test_people_known_before_have_not_left(tmp_path):
    store = make_first_shape(tmp_path / "a.db")
    with store.writing() as connection:
        connection.execute(
            text(
                "INSERT INTO person (code, name, trades, is_inspector) VALUES ('A01', 'Ano',"
                " '[]', 0)"
            )
        )
    migrate(store)
    with store.reading() as connection:
        (person,) = people.list_people(connection)
    assert (person["code"], person["has_left"]) == ("A01", False)


def test_phones_joined_before_stay_joined(tmp_path):
    store = make_first_shape(tmp_path / "a.db")
    migrate(store)
    with store.reading() as connection:
        row = devices.find_device(connection, "h")
        (phone,) = devices.list_devices(connection)
    assert (row.id, row.revoked_at, bool(row.is_next)) == ("d1", None, False)
    assert (phone.created, phone.unsent) == (3, 0)
