"""Joining: a code works once, for minutes; a lost phone keeps its id."""

from datetime import timedelta

import pytest

from qcapp.access.devices import ALPHABET, get_device, join_device, make_join_code
from qcapp.errors import BadInput, NotPaired
from tests.builders import NOW, open_small_store


@pytest.fixture
def store():
    return open_small_store()[0]


def test_code_gives_a_token_once(store):
    code = make_join_code(store, name="Phone 2", minutes=15, now=NOW)
    assert len(code) == 8 and set(code) <= set(ALPHABET)
    joined = join_device(store, code=f" {code[:4]}-{code[4:].lower()} ", device_id="d1", now=NOW)
    assert joined.name == "Phone 2"
    assert get_device(store, f"Bearer {joined.token}") == "d1"
    with pytest.raises(BadInput):
        join_device(store, code=code, device_id="d2", now=NOW)


def test_code_is_too_old_after_its_minutes(store):
    code = make_join_code(store, name="p", minutes=15, now=NOW)
    with pytest.raises(BadInput) as caught:
        join_device(store, code=code, device_id="d1", now=NOW + timedelta(minutes=15))
    assert "new one" in caught.value.todo


def test_phone_that_joins_again_keeps_its_id_and_the_old_token_dies(store):
    tokens = []
    for _ in range(2):
        code = make_join_code(store, name="p", minutes=15, now=NOW)
        tokens.append(join_device(store, code=code, device_id="d1", now=NOW).token)
    assert get_device(store, f"bearer {tokens[1]}") == "d1"
    with pytest.raises(NotPaired):
        get_device(store, f"Bearer {tokens[0]}")


@pytest.mark.parametrize("header", [None, "", "Bearer", "Bearer ", "Basic abc", "Bearer wrong"])
def test_anything_else_is_not_paired(store, header):
    with pytest.raises(NotPaired):
        get_device(store, header)
