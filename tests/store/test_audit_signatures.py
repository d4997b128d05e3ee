"""Signatures and keys altered behind the program's back: the row that is named."""

import pytest
from sqlalchemy import text

from qcapp.store.upkeep.audit import audit_store
from tests.builders import NOW, PHONE_IDS, Phone, open_yard
from tests.signing_phones import get_public_key, join_signing, sign

A, B = (f"{PHONE_IDS}0000000000{name}" for name in ("a1", "b2"))


@pytest.fixture
def yard():
    """One record of a phone without a key, two of phones with one, one held back."""
    yard = open_yard()
    yard.push(yard.phone.inspect("B1-001"))
    for name in (A, B):
        join_signing(yard.store, name, NOW)
        yard.signing.add(name)
        phone = Phone(yard.checklist, name)
        yard.push(phone.inspect(f"B1-{name[-2:]}"))
    yard.push_as_it_is(phone.inspect("B1-009"))
    return yard


def find(yard):
    return [str(one) for one in audit_store(yard.store).altered]


def change(yard, statement, **values):
    with yard.store.writing() as connection:
        assert connection.execute(text(statement), values).rowcount == 1


def test_signatures_are_counted(yard):
    audit = audit_store(yard.store)
    assert (audit.altered, audit.signed, audit.unsigned) == ([], 2, 1)
    assert audit.quarantined == 1


def read_seqs(yard, device_id):
    with yard.store.reading() as connection:
        query = f"SELECT seq FROM log WHERE device_id = '{device_id}' ORDER BY seq"
        return connection.exec_driver_sql(query).scalars().all()


def test_signature_that_was_taken_away_or_put_in_from_another_is_named(yard):
    mine, other = read_seqs(yard, A)[0], read_seqs(yard, B)[0]
    change(yard, "UPDATE log SET signature = NULL WHERE seq = :seq", seq=mine)
    change(
        yard,
        "UPDATE log SET signature = (SELECT signature FROM log WHERE seq = :mine) WHERE seq = :seq",
        mine=read_seqs(yard, Phone.device_id)[0],
        seq=other,
    )
    assert find(yard) == [
        f"record {mine}: it counts without a signature, though its phone had a key",
        f"record {other}: it counts without a signature, though its phone had a key",
    ]
    forged = sign({"hash": "0" * 64, "device_id": A})
    change(yard, "UPDATE log SET signature = :forged WHERE seq = :seq", forged=forged, seq=mine)
    assert f"record {mine}: it counts, but its signature is not of the phone that it names" in find(
        yard
    )


def test_record_held_back_that_was_made_to_count_is_named(yard):
    held = read_seqs(yard, B)[-1]
    change(yard, "UPDATE log SET state = 'counted', reason = NULL WHERE seq = :seq", seq=held)
    assert f"record {held}: it counts without a signature, though its phone had a key" in find(yard)


def test_key_that_was_put_in_the_place_of_another_is_named(yard):
    change(
        yard,
        "UPDATE device_key SET public_key = :key WHERE device_id = :phone",
        key=get_public_key("thief"),
        phone=A,
    )
    assert find(yard) == [
        f"phone {A}: it has a key that the log does not say it registered",
        f"phone {A}: the key that it registered in record 3 is gone",
    ]
