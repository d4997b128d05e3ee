"""A phone whose profile was copied: two run under one id, one token, one key and one counter."""

import json

import pytest

from tests.sync.simulation.machine import Faults
from tests.sync.simulation.world import open_world

pytestmark = pytest.mark.slow


def send(story, phone):
    assert story._go_on(phone.exchange(job="send_now"), [])["status"] in ("sent", "nothing")


def test_copies_see_each_others_stoves_and_every_record_counts():
    with open_world() as world:
        story = type("Story", (Faults,), {"world": world})()
        story.begin(phones=2, batch=3, page=3, last=0)
        one = story.phones[0]
        story.record(phone=0, kind="good", stove="S1", photo=None, is_sent=True)
        one.ask("keep_profile", profile="copied")
        copy = story._make_phone("copy", None, replaces=one.number, profile="copied")
        for phone, stoves in ((one, ("S2", "S3")), (copy, ("S4", "S5"))):
            for stove in stoves:
                phone.record(**world.records.inspect("good", stove))
        for phone in (one, copy, one, copy):
            send(story, phone)
        wanted = {"S1", "S2", "S3", "S4", "S5"}
        for phone in (one, copy):
            seen = {row["event"]["stove"]: row for row in phone.rows.values()}
            assert set(seen) == wanted, phone.name
            assert {row["state"] for row in seen.values()} == {"sent"}
        rows = [row for row in world.yard.read_log() if row.device_id == one.meta["device_id"]]
        assert {json.loads(row.raw)["stove"] for row in rows} == wanted
        assert [row.state for row in rows] == ["counted"] * 5
        assert sorted(row.dev_seq for row in rows) == [1, 2, 2, 3, 3]
        # Nothing more is fetched by an exchange with nothing new.
        before = dict(one.rows)
        send(story, one)
        assert one.rows == before
