"""Joining: a code works once, for minutes; a lost phone keeps its id."""

from datetime import timedelta

import pytest

from qcapp.access.devices import (
    ALPHABET,
    get_device,
    join_device,
    make_join_code,
    revoke_device,
    rotate_token,
)
from qcapp.errors import BadInput, NotFound, NotPaired
from qcapp.store.registry.devices import add_restarted_device
from tests.builders import NOW, PHONE_IDS, open_small_store

D1, D2 = f"{PHONE_IDS}0000000000d1", f"{PHONE_IDS}0000000000d2"


@pytest.fixture
def store():
    return open_small_store()[0]


def test_code_gives_a_token_once(store):
    code = make_join_code(store, name="Phone 2", minutes=15, now=NOW)
    assert len(code) == 8 and set(code) <= set(ALPHABET)
    joined = join_device(store, code=f" {code[:4]}-{code[4:].lower()} ", device_id=D1, now=NOW)
    assert joined.name == "Phone 2"
    assert get_device(store, f"Bearer {joined.token}") == D1
    with pytest.raises(BadInput):
        join_device(store, code=code, device_id=D2, now=NOW)


def test_code_is_too_old_after_its_minutes(store):
    code = make_join_code(store, name="p", minutes=15, now=NOW)
    with pytest.raises(BadInput) as caught:
        join_device(store, code=code, device_id=D1, now=NOW + timedelta(minutes=15))
    assert "new one" in caught.value.todo


def test_phone_that_joins_again_keeps_its_id_and_the_old_token_dies(store):
    tokens = []
    for _ in range(2):
        code = make_join_code(store, name="p", minutes=15, now=NOW)
        tokens.append(join_device(store, code=code, device_id=D1, now=NOW).token)
    assert get_device(store, f"bearer {tokens[1]}") == D1
    with pytest.raises(NotPaired):
        get_device(store, f"Bearer {tokens[0]}")


@pytest.mark.parametrize("header", [None, "", "Bearer", "Bearer ", "Basic abc", "Bearer wrong"])
def test_anything_else_is_not_paired(store, header):
    with pytest.raises(NotPaired):
        get_device(store, header)


@pytest.fixture
def joined(store):
    code = make_join_code(store, name="p", minutes=15, now=NOW)
    return join_device(store, code=code, device_id=D1, now=NOW)


def test_exchanged_token_is_good_and_the_old_one_until_the_new_is_used(store, joined):
    fresh = rotate_token(store, D1)
    assert fresh != joined.token
    for _ in range(3):
        assert get_device(store, f"Bearer {joined.token}") == D1
    assert get_device(store, f"Bearer {fresh}") == D1
    with pytest.raises(NotPaired):
        get_device(store, f"Bearer {joined.token}")
    assert get_device(store, f"Bearer {fresh}") == D1


def test_exchange_whose_answer_was_lost_locks_nobody_out(store, joined):
    lost, fresh = rotate_token(store, D1), rotate_token(store, D1)
    with pytest.raises(NotPaired):
        get_device(store, f"Bearer {lost}")
    assert get_device(store, f"Bearer {joined.token}") == D1
    assert get_device(store, f"Bearer {fresh}") == D1


def test_phone_signed_off_is_told_so_with_either_token_until_it_joins_again(store, joined):
    fresh = rotate_token(store, D1)
    revoke_device(store, D1, now=NOW)
    for token in (joined.token, fresh):
        with pytest.raises(NotPaired) as caught:
            get_device(store, f"Bearer {token}")
        assert (
            "removed this phone" in caught.value.what and "unsent work is safe" in caught.value.todo
        )
    code = make_join_code(store, name="p", minutes=15, now=NOW)
    again = join_device(store, code=code, device_id=D1, now=NOW)
    assert get_device(store, f"Bearer {again.token}") == D1
    for token in (joined.token, fresh):
        with pytest.raises(NotPaired):
            get_device(store, f"Bearer {token}")


def test_unknown_phone_cannot_be_signed_off(store):
    with pytest.raises(NotFound):
        revoke_device(store, "nobody", now=NOW)


def test_token_of_a_phone_that_started_anew_is_none(store, joined):
    with store.writing() as connection:
        add_restarted_device(connection, D2, of=D1, now="t")
    for header in ("Bearer ", "Bearer  ", "Bearer"):
        with pytest.raises(NotPaired):
            get_device(store, header)
