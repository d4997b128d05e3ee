"""Attacks on who made a record: another phone's id, a removed phone, a file made by hand."""

import hashlib
import json

import pytest

from qcapp.access.devices import make_join_code
from qcapp.errors import BadInput
from qcapp.inspection.event import seal_event
from qcapp.store.registry import devices
from qcapp.sync.quarantine import list_records
from qcapp.sync.quarantine_decisions import accept
from tests.builders import NOW, Phone, build_push, open_yard
from tests.page_text import text_of
from tests.signing_phones import get_public_key, sign, sign_all
from tests.store.test_projections import dump

pytestmark = pytest.mark.both_engines

A, B, C = (f"0197f000-0000-7000-8000-0000000000{n}" for n in ("a1", "b2", "c3"))
SECRETS = {A: "a" * 64, B: "b" * 64, C: "c" * 64}
NOTHING = ([], [], [], [])


@pytest.fixture
def yard():
    """With two phones that joined with their keys."""
    yard = open_yard()
    yard.tokens = {one: join(yard, one) for one in (A, B)}
    return yard


def join(yard, device_id, *, key=None, secret=None, name="Phone"):
    """The headers of a phone that joins as the app does; key: whose, where not its own."""
    code = make_join_code(yard.store, name=f"{name} {device_id[-2:]}", minutes=15, now=NOW)
    wish = {
        "code": code,
        "device_id": device_id,
        "key": get_public_key(key or device_id),
        "secret": secret or SECRETS[device_id],
    }
    answer = yard.client.post("/api/devices/enrol", json=wish)
    assert answer.status_code == 200, answer.text
    return {"Authorization": f"Bearer {answer.json()['token']}"}


def push(yard, sender, *events, **change):
    """(outcome, code of the reason or None) of each."""
    wish = build_push(list(events), **change)
    answer = yard.client.post("/api/sync/push", json=wish, headers=yard.tokens[sender])
    assert answer.status_code == 200, answer.text
    return [read_outcome(result) for result in answer.json()["results"]]


def read_outcome(result):
    return result["outcome"], (result["reason"] or {}).get("code")


def hand_over(yard, *events, signatures=None):
    """The same of a file that the lead imports."""
    file = {
        "format": "records/1",
        "device_id": "whatever",
        "made_at": "2026-11-25T08:00:00.000Z",
        "events": events,
        "definitions": [],
        "photos": [],
        **({} if signatures is None else {"signatures": signatures}),
    }
    given = {"file": ("unsent.qcrecords", json.dumps(file).encode())}
    answer = yard.client.post("/yard/import", files=given)
    assert answer.status_code == 200, answer.text
    return text_of(answer)


def list_stoves(yard):
    """Serials of the stoves that count."""
    with yard.store.reading() as connection:
        return sorted(connection.exec_driver_sql("SELECT serial FROM stove").scalars())


def make_phone(yard, device_id):
    return Phone(yard.checklist, device_id)


def note(device_id, **more):
    return {"id": device_id, "created": 1, "acked": 0, **more}


def test_record_under_another_phones_id_is_held_back(yard):
    forger = make_phone(yard, B)
    unsigned, own_key, cut = (forger.inspect(f"B1-00{n}") for n in range(3))
    signatures = [None, sign(own_key, A), sign(cut)[:-2]]
    assert push(yard, A, unsigned, own_key, cut, signatures=signatures) == [
        ("quarantined", "unsigned"),
        ("quarantined", "bad_signature"),
        ("quarantined", "bad_signature"),
    ]
    assert dump(yard.store) == NOTHING
    page = text_of(yard.client.get("/yard/quarantine"))
    assert "not signed: nothing shows that the phone it names made it" in page
    assert "its signature was not made with the key of the phone it names" in page


def test_phone_that_has_a_key_is_not_believed_without_its_signature(yard):
    phone = make_phone(yard, A)
    bare, signed = phone.inspect("B1-001"), phone.inspect("B1-002")
    assert push(yard, A, bare, signed, signatures=[None, sign(signed)]) == [
        ("quarantined", "unsigned"),
        ("created", None),
    ]


@pytest.mark.parametrize("junk", [7, {}, [], True, "", "A" * 86, "=" * 86, "\ud800", "a" * 9000])
def test_signature_that_is_none_harms_nobody(yard, junk):
    phone = make_phone(yard, A)
    odd, good = phone.inspect("B1-001"), phone.inspect("B1-002")
    text = json.dumps(build_push([odd, good], signatures=[junk, sign(good), "more than events"]))
    answer = yard.client.post(
        "/api/sync/push",
        content=text,
        headers=yard.tokens[A] | {"Content-Type": "application/json"},
    )
    first, second = map(read_outcome, answer.json()["results"])
    assert first[0] == "quarantined" and first[1] in ("unsigned", "bad_signature")
    assert second == ("created", None)


def test_signature_of_one_record_is_good_for_no_other(yard):
    phone = make_phone(yard, A)
    event = phone.inspect("B1-001")
    altered = seal_event({**event, "stove": "B1-002"})
    assert push(yard, A, altered, signatures=[sign(event)]) == [("quarantined", "bad_signature")]


def test_relayed_and_handed_over_records_count_by_their_phones_signature_alone(yard):
    phone = make_phone(yard, B)
    events = [phone.inspect(f"B1-00{n}") for n in range(4)]
    assert push(yard, A, events[0], signatures=sign_all(events[:1])) == [("created", None)]
    assert "held back" not in hand_over(yard, events[1], signatures=sign_all(events[1:2])).lower()
    assert "not signed" in hand_over(yard, events[2])
    assert "its signature was not made" in hand_over(
        yard, events[3], signatures=[sign(events[3], A)]
    )
    assert list_stoves(yard) == ["B1-000", "B1-001"]


def test_file_made_by_hand_is_held_back(yard):
    """Under an id of nobody, of the server, and of a phone that has no key here."""
    phone = make_phone(yard, C)
    nobody, keyless = phone.inspect("B1-001"), yard.phone.inspect("B1-003")
    paper, typed = (seal_event({**phone.inspect("B1-002"), "device_id": "server"}) for _ in "ab")
    told = hand_over(yard, nobody, paper, keyless, signatures=sign_all([nobody, paper, keyless]))
    assert told.count("the phone it names never joined this yard") == 2
    assert told.count("not signed: nothing shows") == 1 and dump(yard.store) == NOTHING
    assert push(yard, A, typed) == [("quarantined", "unknown_phone")]


@pytest.mark.parametrize("taken", ["server", "import", "unknown", "..", "a/b", "<b>"])
def test_phone_joins_under_no_name_that_is_not_a_phones(yard, taken):
    """As the server it would make records that nobody can prove, as the lead's import records
    without end; and a name that fits into no address could not be removed.
    """
    code = make_join_code(yard.store, name="Phone", minutes=15, now=NOW)
    wish = {"code": code, "device_id": taken, "key": get_public_key(taken), "secret": SECRETS[C]}
    assert yard.client.post("/api/devices/enrol", json=wish).status_code == 400
    event = seal_event({**make_phone(yard, A).inspect("B1-001"), "device_id": taken})
    done = push(yard, A, event, device=note(taken), signatures=[sign(event, A)])
    assert done == [("quarantined", "unknown_phone")]
    assert taken not in list_device_ids(yard) and dump(yard.store) == NOTHING


def list_device_ids(yard):
    with yard.store.reading() as connection:
        return {one.id for one in devices.list_devices(connection)}


def test_phone_that_goes_on_under_ever_new_ids_has_to_join_again(yard):
    """Each id is a line of the lead's list of phones, and no allowance counted them."""
    before = len(list_device_ids(yard))
    forged = [f"{B[:-4]}{n:04x}" for n in range(devices.MAX_IDS + 9)]
    for name in forged[:15]:
        push(yard, A, {"device_id": name}, device=note(name))
    events = [make_phone(yard, name).inspect("B1-001") for name in forged]
    outcomes = push(yard, A, *events, signatures=sign_all(events, A))
    assert len(list_device_ids(yard)) == before + devices.MAX_IDS - 1
    assert outcomes[-1] == ("quarantined", "unknown_phone")
    yard.tokens[forged[-1]] = join(yard, forged[-1], key=A, secret=SECRETS[A])
    assert push(yard, forged[-1], events[-1], signatures=[sign(events[-1], A)]) == [
        ("duplicate", None)
    ]


def test_new_record_of_a_removed_phone_is_held_back_until_it_joins_again(yard):
    phone = make_phone(yard, B)
    event = phone.inspect("B1-001")
    yard.client.post(f"/yard/phones/{B}/revoke")
    signatures = sign_all([event])
    assert push(yard, A, event, signatures=signatures) == [("quarantined", "revoked_phone")]
    assert dump(yard.store) == NOTHING
    yard.tokens[B] = join(yard, B)
    assert push(yard, B, event, signatures=signatures) == [("duplicate", None)]
    assert list_stoves(yard) == ["B1-001"]


def test_removing_a_phone_that_started_anew_takes_the_token_with_which_it_goes_on(yard):
    """It joined as A, lost its memory and goes on as C with A's token: the lead sees it as C."""
    before, after = make_phone(yard, A), make_phone(yard, C)
    event = after.inspect("B1-001")
    known = {"device": note(C, restart=hashlib.sha256(SECRETS[A].encode()).hexdigest())}
    assert push(yard, A, event, signatures=[sign(event, A)], **known) == [("created", None)]
    yard.client.post(f"/yard/phones/{C}/revoke")
    pulled = yard.client.get("/api/sync/pull?cursor=", headers=yard.tokens[A])
    assert pulled.status_code == 401, "a removed phone still gets an answer"
    yard.tokens[C] = join(yard, C, key=A, secret=SECRETS[A])
    late = before.inspect("B1-002")
    assert push(yard, C, late, signatures=[sign(late)]) == [("created", None)]
    assert list_stoves(yard) == ["B1-001", "B1-002"]
    pulled = yard.client.get("/api/sync/pull?cursor=", headers=yard.tokens[A])
    assert pulled.status_code == 401, "the token that was removed is good again"


def test_what_a_phone_made_under_an_id_that_the_server_forgot_counts_by_its_key(yard):
    """C is an id that phone A had; a relay brought its record before A itself could prove it."""
    phone = make_phone(yard, C)
    first, second, foreign = (phone.inspect(f"B1-00{n}") for n in range(3))
    signatures = [sign(first, A), sign(second, A)]
    assert push(yard, B, first, signatures=signatures[:1]) == [("quarantined", "unknown_phone")]
    wish = {"signatures": [*signatures, sign(foreign, "thief")]}
    assert push(yard, A, first, second, foreign, **wish) == [
        ("duplicate", None),
        ("created", None),
        ("quarantined", "bad_signature"),
    ]
    assert list_stoves(yard) == ["B1-000", "B1-001"]
    # Once it joins by itself, nobody else speaks under this id.
    yard.tokens[C] = join(yard, C)
    taken = phone.inspect("B1-009")
    assert push(yard, A, taken, signatures=[sign(taken, A)]) == [("quarantined", "bad_signature")]


def test_record_altered_under_an_id_that_nobody_has_heard_of_is_shown_beside_the_true_one(yard):
    """C has not joined yet, as after its browser emptied it; A alters what C handed to it. For the
    server C is then an id of A. Were the true one to count by itself, whoever joins under the
    number of a phone that was lost could write over all that it made.
    """
    true = make_phone(yard, C).inspect("B1-001")
    answers = {**true["body"]["answers"], "dents": {"mark": "fail"}}
    body = {**true["body"], "answers": answers, "disposition": {"kind": "rework"}}
    altered = seal_event({**true, "body": body})
    assert push(yard, A, altered, signatures=[sign(altered, A)]) == [("created", None)]
    yard.tokens[C] = join(yard, C)
    assert push(yard, C, true, signatures=[sign(true)]) == [("conflict", "other_content_first")]
    with yard.store.reading() as connection:
        (held,) = list_records(connection)
    page = text_of(yard.client.get(f"/yard/quarantine/{held.seq}"))
    assert "dents fail differs" in page and "Handed in by Phone a1" in page
    accept(yard.store, held.seq, reason="C's own", by="lead", mapping={}, seen="", now=NOW)
    with yard.store.reading() as connection:
        (left,) = connection.exec_driver_sql("SELECT disposition FROM inspection").scalars()
    assert left == "release"


def test_one_id_never_counts_for_two_stoves_whatever_comes_to_be_proven(yard):
    """Sealed twice under one id, about two stoves: what only a broken phone does."""
    one = make_phone(yard, B).inspect("B1-001")
    other = seal_event({**one, "stove": "B1-002"})
    third = seal_event({**one, "stove": "B1-003"})
    assert push(yard, A, one, signatures=[None]) == [("quarantined", "unsigned")]
    both = push(yard, B, one, other, signatures=sign_all([one, other]))
    assert both == [("quarantined", "unsigned"), ("created", None)]
    assert push(yard, A, third, signatures=sign_all([third])) == [
        ("conflict", "other_content_first")
    ]
    assert list_stoves(yard) == ["B1-002"]
    with yard.store.reading() as connection:
        held = list_records(connection)
    for record in held:
        with pytest.raises(BadInput, match="same id"):
            accept(yard.store, record.seq, reason="x", by="lead", mapping={}, seen="", now=NOW)
    assert len(held) == 2 and list_stoves(yard) == ["B1-002"]


def test_a_record_proven_after_the_fact_keeps_its_id(yard):
    one = make_phone(yard, B).inspect("B1-001")
    other = seal_event({**one, "stove": "B1-002"})
    assert push(yard, A, one, signatures=[None]) == [("quarantined", "unsigned")]
    assert push(yard, B, one, signatures=sign_all([one])) == [("duplicate", None)]
    assert push(yard, B, other, signatures=sign_all([other])) == [
        ("conflict", "other_content_first")
    ]
    assert list_stoves(yard) == ["B1-001"]


def test_another_key_needs_joining_again_and_is_shown(yard):
    phone = make_phone(yard, A)
    first, second, third = (phone.inspect(f"B1-00{n}") for n in range(3))
    wish = {"device": note(A, key=get_public_key("thief")), "signatures": [sign(first, "thief")]}
    assert push(yard, A, first, **wish) == [("quarantined", "bad_signature")]
    assert "another key" not in text_of(yard.client.get("/yard"))
    yard.tokens[A] = join(yard, A, key="thief")
    assert push(yard, A, second, signatures=[sign(second, "thief")]) == [("created", None)]
    assert push(yard, B, third, signatures=[sign(third)]) == [("quarantined", "old_key")]
    assert "joined again with another key" in text_of(yard.client.get("/yard"))


def test_phone_that_joined_before_there_were_keys_registers_its_first_one_once(yard):
    own = yard.phone
    yard.tokens[own.device_id] = yard.headers
    before, after, forged = (own.inspect(f"B1-00{n}") for n in range(3))
    assert push(yard, own.device_id, before) == [("created", None)]
    key = note(own.device_id, key=get_public_key(own.device_id))
    done = push(yard, own.device_id, after, device=key, signatures=sign_all([after]))
    assert done == [("created", None)]
    other = note(own.device_id, key=get_public_key("thief"))
    done = push(yard, own.device_id, forged, device=other, signatures=[sign(forged, "thief")])
    assert done == [("quarantined", "bad_signature")]


@pytest.mark.parametrize("how", ["stripped", "forged"])
def test_forged_record_that_comes_first_does_not_keep_the_true_one_out(yard, how):
    """Whoever was handed a file knows its records' ids and hashes."""
    phone = make_phone(yard, B)
    true = phone.inspect("B1-001")
    false = true if how == "stripped" else seal_event({**true, "stove": "B1-009"})
    assert push(yard, A, false) == [("quarantined", "unsigned")]
    (done,) = push(yard, B, true, signatures=sign_all([true]))
    assert done == ("duplicate" if how == "stripped" else "created", None)
    assert list_stoves(yard) == ["B1-001"]
    # A lost answer: the repeat says so again.
    assert push(yard, B, true, signatures=sign_all([true])) == [("duplicate", None)]
    assert list_stoves(yard) == ["B1-001"]


def make_report(phone, lost_by, lost=4):
    body = {"device_id": lost_by, "created": 6, "acked": 2, "lost": lost, "last_saved_at": None}
    absent = dict.fromkeys(("batch", "stage", "checklist", "checklist_hash"))
    return phone.seal("device_report", None, body, inspector="-", **absent)


def test_loss_report_counts_only_from_that_phone_or_its_restart(yard):
    first = make_phone(yard, B).inspect("B1-001")
    push(yard, B, first, device=note(B), signatures=sign_all([first]))
    report = make_report(make_phone(yard, A), B)
    assert push(yard, A, report, signatures=sign_all([report])) == [("quarantined", "foreign_loss")]
    assert "lost 5 records" not in text_of(yard.client.get("/yard"))
    stranger = join(yard, C)
    yard.tokens[C] = stranger
    report = make_report(make_phone(yard, C), B)
    assert push(yard, C, report, signatures=sign_all([report])) == [("quarantined", "foreign_loss")]
    # The same phone, with the secret that is noted beside its lost database.
    again = "0197f000-0000-7000-8000-0000000000d4"
    yard.tokens[again] = join(yard, again, secret=SECRETS[B])
    report = make_report(make_phone(yard, again), B)
    assert push(yard, again, report, signatures=sign_all([report])) == [("created", None)]
    assert "lost 5 records, numbers 2 to 6" in text_of(yard.client.get("/yard"))


def test_loss_report_of_another_phone_counts_once_the_lead_accepts_it(yard):
    report = make_report(make_phone(yard, A), B)
    push(yard, A, report, signatures=sign_all([report]))
    with yard.store.reading() as connection:
        seq = connection.exec_driver_sql("SELECT max(seq) FROM log").scalar()
    decided = {"action": "accept", "seen": "", "reason": "its holder came with this one"}
    assert yard.client.post(f"/yard/quarantine/{seq}", data=decided).status_code == 200
    assert "lost 6 records, numbers 1 to 6" in text_of(yard.client.get("/yard"))


def test_phone_cannot_say_what_another_one_made(yard):
    forged = make_phone(yard, B).inspect("B1-001")
    push(yard, A, forged, device=note(B, created=900))
    push(yard, A, device=note(B, created=900))
    page = text_of(yard.client.get("/yard"))
    assert "900" not in page and "899" not in page


def test_forged_record_makes_no_phone_lose_anything(yard):
    """Its number is far beyond what the phone has made; one under a known id too."""
    phone = make_phone(yard, B)
    true = phone.inspect("B1-001")
    push(yard, B, true, device=note(B), signatures=sign_all([true]))
    forged = seal_event({**phone.inspect("B1-002"), "dev_seq": 900})
    known = seal_event({**true, "dev_seq": 800})
    assert push(yard, A, forged, known, device=note(A)) == [
        ("quarantined", "unsigned"),
        ("conflict", "unsigned"),
    ]
    page = text_of(yard.client.get("/yard"))
    assert "lost" not in page.split("was lost or given away")[0].replace("may be lost", "")
    assert "900" not in page and "800" not in page and "went back" not in page


def test_phone_cannot_take_another_ones_id_for_its_own_restart(yard):
    """Neither of a phone that is here nor, with the token alone, a new key for its own."""
    forged = make_phone(yard, B).inspect("B1-001")
    wish = {"device": note(B, key=get_public_key(A)), "signatures": [sign(forged, A)]}
    assert push(yard, A, forged, **wish) == [("quarantined", "bad_signature")]
    fresh = "0197f000-0000-7000-8000-0000000000e5"
    own = make_phone(yard, fresh).inspect("B1-002")
    wish = {"device": note(fresh, key=get_public_key("thief")), "signatures": [sign(own, "thief")]}
    assert push(yard, A, own, **wish) == [("quarantined", "bad_signature")]
    old = make_phone(yard, A).inspect("B1-003")
    assert push(yard, A, old, signatures=[sign(old, "thief")]) == [("quarantined", "bad_signature")]
    # With what is noted beside its database it is the same phone, and goes on with a new key.
    proof = hashlib.sha256(SECRETS[A].encode()).hexdigest()
    other = "0197f000-0000-7000-8000-0000000000f6"
    own = make_phone(yard, other).inspect("B1-004")
    wish = {"device": note(other, key=get_public_key(other), restart=proof)}
    assert push(yard, A, own, signatures=sign_all([own]), **wish) == [("created", None)]


def test_number_that_two_records_share_shows_a_copied_phone_and_each_copy_gets_the_others(yard):
    one, copy = make_phone(yard, A), make_phone(yard, A)
    shared = [one.inspect("B1-001"), one.inspect("B1-002")]
    copy.numbers = iter((2, 3))
    push(yard, A, *shared, signatures=sign_all(shared))
    headers = yard.tokens[A]
    before = yard.client.get("/api/sync/pull", headers=headers).json()
    assert before["events"] == []
    twice = [seal_event({**copy.inspect(f"B1-00{n}"), "id": f"{B[:-2]}{n:02x}"}) for n in (3, 4)]
    done = push(yard, A, *twice, signatures=sign_all(twice))
    assert done == [("created", None)] * 2
    page = text_of(yard.client.get("/yard"))
    assert "two copies of this phone" in page and "number 2" in page
    for cursor in ("", before["cursor"]):
        got = yard.client.get(f"/api/sync/pull?cursor={cursor}", headers=headers).json()
        stoves = {row["event"]["stove"] for row in got["events"]}
        assert stoves == {"B1-001", "B1-002", "B1-003", "B1-004"}
        again = yard.client.get(f"/api/sync/pull?cursor={got['cursor']}", headers=headers).json()
        assert again["events"] == [] and again["lineage"] == "ok"


def test_forged_number_makes_no_copied_phone(yard):
    event = make_phone(yard, A).inspect("B1-001")
    push(yard, A, event, signatures=sign_all([event]))
    forged = seal_event({**make_phone(yard, A).inspect("B1-002"), "id": f"{B[:-2]}99"})
    assert push(yard, B, forged) == [("quarantined", "unsigned")]
    assert "two copies" not in text_of(yard.client.get("/yard"))


def test_only_who_inspects_changes_what_another_recorded_and_it_is_shown(yard):
    phone, other = make_phone(yard, A), make_phone(yard, B)
    with yard.store.writing() as connection:
        connection.exec_driver_sql(
            "INSERT INTO person (code, name, trades, is_inspector, has_left)"
            " VALUES ('I02', 'Dele', '[]', true, false)"
        )
    events = [phone.inspect(f"B1-00{n}") for n in range(2)]
    push(yard, A, *events, signatures=sign_all(events))
    body = {"reason": "not mine"}
    by_artisan = other.seal("void", "B1-000", body, corrects=events[0]["id"], inspector="A01")
    assert push(yard, B, by_artisan, signatures=sign_all([by_artisan])) == [
        ("quarantined", "not_an_inspector")
    ]
    replaced = events[1]["body"] | {"disposition": {"kind": "hold", "reason": "see it again"}}
    fixed = other.seal(
        "correction",
        "B1-001",
        {"reason": "read wrongly", "replacement": replaced},
        corrects=events[1]["id"],
        inspector="I02",
    )
    assert push(yard, B, fixed, signatures=sign_all([fixed])) == [("created", None)]
    page = text_of(yard.client.get("/stoves/finished/B1-001"))
    assert "Dele (I02) corrected a record of Ciro (I01): read wrongly" in page


def test_record_of_the_buyers_phone_is_held_back_whoever_carries_it(yard):
    code = make_join_code(yard.store, name="Buyer", minutes=15, now=NOW, buyer_batch="B1")
    wish = {"code": code, "device_id": C, "key": get_public_key(C), "secret": SECRETS[C]}
    assert yard.client.post("/api/devices/enrol", json=wish).status_code == 200
    event = make_phone(yard, C).inspect("B1-001")
    assert push(yard, A, event, signatures=sign_all([event])) == [("quarantined", "recheck_only")]
    assert dump(yard.store) == NOTHING
