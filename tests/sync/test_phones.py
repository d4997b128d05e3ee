"""What the lead is told of each phone, from what it said and from the numbers that are here."""

import hashlib
import itertools
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcapp.inspection.loss import describe_loss
from qcapp.store.registry.devices import save_device
from qcapp.store.timestamps import format_timestamp
from qcapp.sync.device_states import list_devices_seen
from qcapp.sync.push import parse_push, receive_push
from tests.builders import NOW, Phone, build_push, open_small_store, open_yard
from tests.page_text import text_of

pytestmark = pytest.mark.slow

OWN = Phone.device_id
SECRET = "5ec2e7"
NEW = "0197f000-0000-7000-8000-0000000000dd"


@pytest.fixture
def yard():
    return open_yard()


def tell(yard, *events, created, acked, **more):
    """A push as the phone makes it: `acked` is what the server had named before it."""
    device = {
        "id": OWN,
        "created": created,
        "acked": acked,
        "clock": format_timestamp(NOW),
        **more.pop("device", {}),
    }
    return yard.push(*events, device=device, **more)


def look(yard, device_id=OWN):
    with yard.store.reading() as connection:
        return next(phone for phone in list_devices_seen(connection) if phone.id == device_id)


def make(yard, n):
    return [yard.phone.inspect(f"B1-{number:03}") for number in range(1, n + 1)]


def test_what_is_not_sent_yet_is_not_lost(yard):
    events = make(yard, 5)
    tell(yard, *events[:2], created=5, acked=0)
    assert (look(yard).stored, look(yard).made, look(yard).unsent, look(yard).loss) == (
        2,
        5,
        3,
        None,
    )
    tell(yard, *events[4:], created=5, acked=2)
    assert (look(yard).unsent, look(yard).loss) == (2, None)
    tell(yard, *events[2:4], created=5, acked=3)
    assert (look(yard).unsent, look(yard).loss) == (0, None)


def test_lost_records_are_named_with_their_numbers_on_the_page(yard):
    events = make(yard, 9)
    tell(yard, *events[:4], created=9, acked=0)
    # Numbers 5 to 7 vanish from the phone's memory: it has nothing left to send but 8 and 9.
    tell(yard, *events[7:], created=9, acked=7)
    assert describe_loss(look(yard).loss) == "lost 3 records, numbers 5 to 7"
    page = text_of(yard.client.get("/yard"))
    assert "Phone lost 3 records, numbers 5 to 7" in page and "Inspect those stoves again" in page
    yard.push(
        events[4], events[5], events[6], device={"id": "another phone", "created": 0, "acked": 0}
    )
    assert look(yard).loss is None, "found again, handed over by another phone"


def test_answer_lost_on_the_way_is_no_loss(yard):
    events = make(yard, 3)
    tell(yard, *events, created=3, acked=0)
    assert look(yard).unsent == 0
    tell(yard, *events, created=3, acked=0)
    assert (look(yard).unsent, look(yard).loss) == (0, None)


def test_record_too_large_to_take_still_waits(yard):
    (big,) = make(yard, 1)
    big["body"]["answers"]["dents"]["note"] = "x" * 20_000
    tell(yard, big, created=1, acked=0)
    assert (look(yard).unsent, look(yard).loss) == (1, None)


def test_server_put_back_calls_nothing_lost_that_the_phone_offers_again(yard):
    make(yard, 3)
    answer = tell(yard, created=3, acked=3, have={"seq": 9, "chain": "f" * 64})
    assert answer["lineage"] == "diverged" and (look(yard).unsent, look(yard).loss) == (3, None)


def test_phone_that_lost_its_memory_reports_itself(yard):
    events = make(yard, 6)
    secret_hash = hashlib.sha256(SECRET.encode()).hexdigest()
    tell(yard, *events[:2], created=5, acked=0, device={"restart": secret_hash})
    reporter = Phone(yard.checklist, NEW)
    body = {"device_id": OWN, "created": 6, "acked": 2, "lost": 4, "last_saved_at": None}
    report = reporter.seal(
        "device_report",
        None,
        body,
        batch=None,
        stage=None,
        checklist=None,
        checklist_hash=None,
        inspector="-",
    )
    headers = yard.pair(NEW, SECRET)
    push = build_push([report], device={"id": NEW, "created": 1, "acked": 0})
    assert (
        yard.client.post("/api/sync/push", json=push, headers=headers).json()["results"][0][
            "outcome"
        ]
        == "created"
    )
    assert (
        describe_loss(look(yard).loss) == "lost 4 records, numbers 3 to 6" and look(yard).is_ended
    )
    assert look(yard, NEW).loss is None
    assert "it reported that its storage had been cleared" in text_of(yard.client.get("/yard"))


def test_phone_that_goes_on_under_a_new_id_with_its_old_token_is_watched_too(yard):
    fresh = Phone(yard.checklist, NEW)
    events = [fresh.inspect(f"B1-{n:03}") for n in range(3)]
    for event, acked in ((events[0], 0), (events[2], 2)):
        yard.push_as_it_is(event, device={"id": NEW, "created": 3, "acked": acked})
    assert (
        look(yard, NEW).name == "Phone, started anew"
        and describe_loss(look(yard, NEW).loss) == "lost 1 record, number 2"
    )
    assert look(yard).made == 0


def test_counter_that_went_back_is_told(yard):
    tell(yard, *make(yard, 4), created=4, acked=0)
    assert look(yard).went_back is None
    tell(yard, created=2, acked=2)
    assert look(yard).went_back == (4, 2)
    assert "counter went back from 4 to 2" in text_of(yard.client.get("/yard"))


def test_phone_that_never_joined_is_listed_without_a_claim(yard):
    stranger = Phone(yard.checklist, NEW)
    events = [stranger.inspect(f"B1-{n:03}") for n in range(3)]
    yard.push_as_it_is(events[0], events[2])
    found = look(yard, NEW)
    assert (found.joined_at, found.stored, found.loss) == (None, 2, None)
    assert "never joined this yard" in text_of(yard.client.get("/yard"))


@pytest.mark.parametrize(
    ("off", "words"),
    [
        (0, "on time"),
        (90, "on time"),
        (600, "10 minutes fast"),
        (-7200 * 3, "6 hours slow"),
        (86400 * 40, "40 days fast"),
    ],
)
def test_clock_and_build_are_shown(yard, off, words):
    tell(
        yard,
        *make(yard, 1),
        created=1,
        acked=0,
        device={"clock": format_timestamp(NOW + timedelta(seconds=off))},
    )
    page = text_of(yard.client.get("/yard"))
    assert (
        words in page
        and look(yard).clock_offset_ms == off * 1000
        and look(yard).app_build == "test"
    )


def test_phone_signed_off_on_the_page_can_send_nothing_and_says_why(yard):
    page = yard.client.post(f"/yard/phones/{OWN}/revoke")
    assert page.status_code == 200 and "removed 2026-11-25 09:00 UTC" in text_of(page)
    answer = yard.client.post(
        "/api/sync/push", json=build_push(make(yard, 1)), headers=yard.headers
    )
    assert answer.status_code == 401 and "removed this phone" in answer.json()["error"]["what"]
    assert yard.client.post("/yard/phones/nobody/revoke").status_code == 404


def test_token_is_exchanged_by_the_phone_that_has_one(yard):
    assert yard.client.post("/api/devices/rotate").status_code == 401
    fresh = yard.client.post("/api/devices/rotate", headers=yard.headers).json()
    assert fresh["device_id"] == OWN
    assert (
        yard.client.get(
            "/api/sync/pull", headers={"Authorization": f"Bearer {fresh['token']}"}
        ).status_code
        == 200
    )
    assert yard.client.get("/api/sync/pull", headers=yard.headers).status_code == 401


@pytest.mark.parametrize(
    "note",
    [
        7,
        {"created": -4},
        {"id": 5},
        {"app_build": "x" * 5000},
        {"created": 2**70},
        {"clock": "yesterday"},
    ],
)
def test_note_that_makes_no_sense_stops_no_record(yard, note):
    (event,) = make(yard, 1)
    assert yard.push(event, device=note)["results"][0]["outcome"] == "created"
    assert yard.client.get("/yard").status_code == 200


steps = st.lists(
    st.one_of(
        st.tuples(st.just("make"), st.integers(1, 4)),
        st.tuples(st.just("push"), st.integers(1, 5), st.booleans()),
        st.tuples(st.just("lose"), st.integers(0, 10)),
    ),
    max_size=14,
)


@pytest.fixture(scope="module")
def shared():
    """One store for all examples, each with a phone of its own."""
    store, checklist = open_small_store()
    yield store, checklist, itertools.count()
    store.close()


class LosingPhone:
    """A phone that makes, pushes (the answer may be lost) and loses unsent records.

    lost: numbers of the records that it lost; here: numbers of those that reached the server.
    """

    def __init__(self, store, checklist, device_id: str) -> None:
        self.store, self.phone = store, Phone(checklist, device_id)
        self.made, self.unsent, self.lost, self.here = 0, [], set(), set()
        with store.writing() as connection:
            save_device(
                connection,
                device_id=device_id,
                name="Phone",
                token_hash="t",
                now=format_timestamp(NOW),
            )

    def make(self, count: int) -> None:
        nothing = dict.fromkeys(("batch", "stage", "checklist", "checklist_hash"))
        self.unsent += [self.phone.seal("photo_note", None, {}, **nothing) for _ in range(count)]
        self.made += count

    def lose(self, which: int) -> None:
        if self.unsent:
            self.lost.add(self.unsent.pop(which % len(self.unsent))["dev_seq"])

    def push(self, most: int, is_answered: bool) -> None:
        batch, device = self.unsent[:most], self.phone.device_id
        note = {"id": device, "created": self.made, "acked": self.made - len(self.unsent)}
        pushed = parse_push(build_push(batch, device=note))
        receive_push(self.store, pushed, relayed_by=device, now=NOW)
        self.here |= {event["dev_seq"] for event in batch}
        self.compare(is_all=len(batch) == len(self.unsent))
        if is_answered:
            self.unsent = self.unsent[len(batch) :]

    def compare(self, *, is_all: bool) -> None:
        """What the server calls lost, with what is. is_all: nothing unsent was held back."""
        with self.store.reading() as connection:
            seen = list_devices_seen(connection)
        loss = next(one for one in seen if one.id == self.phone.device_id).loss
        # What was pushed before its answer got lost may be lost on the phone, but it is here.
        really = self.lost - self.here
        count = loss.count if loss else 0
        # Records that are here, but whose answer was lost, hide a loss until they are offered
        # again.
        assert count <= len(really) and (count == len(really) or not is_all)
        if count and loss.is_exact:
            named = {n for first, last in loss.ranges for n in range(first, last + 1)}
            assert named == really


@settings(max_examples=60)
@given(steps=steps)
def test_nothing_is_called_lost_that_is_not_and_in_the_end_all_that_is(shared, steps):
    """In any order of making, pushing and losing."""
    store, checklist, numbers = shared
    phone = LosingPhone(store, checklist, f"0197f000-0000-7000-8000-{next(numbers):012x}")
    for act, *how in [*steps, ("push", 100, True)]:
        getattr(phone, act)(*how)
