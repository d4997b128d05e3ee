"""One way to look up each noun: get_ raises NotFound, find_ gives None, list_ gives many."""

import pytest

from qcapp.errors import NotFound
from qcapp.store.chunks import chunked
from qcapp.store.registry.accounts import find_account, get_account, save_account
from qcapp.store.registry.batches import find_batch, get_batch, list_batches
from qcapp.store.registry.checklists import (
    get_current_checklist,
    list_current_checklists,
    list_current_definitions,
    list_current_hashes,
)
from qcapp.store.registry.people import find_person, get_person, list_people
from tests.builders import BATCHES, PEOPLE, open_small_store

pytestmark = pytest.mark.both_engines


@pytest.fixture
def opened(tmp_path):
    store, checklist = open_small_store(tmp_path / "a.db")
    with store.writing() as connection:
        save_account(
            connection, code="LEAD", name="Lea", role="yard_lead", password_hash="h", now="t"
        )
    return store, checklist


def test_what_is_here_is_found_by_its_code(opened):
    store, checklist = opened
    with store.reading() as connection:
        assert get_person(connection, "A02") == {**PEOPLE[1], "has_left": False}
        assert get_person(connection, "A02") == find_person(connection, "A02")
        assert get_person(connection, "A02") in list_people(connection)
        without_order = {"order_no": "", "contract_no": "", "ordered": None}
        assert get_batch(connection, "B1") == {**BATCHES[0], **without_order}
        assert get_batch(connection, "B1") == find_batch(connection, "B1")
        assert [batch["code"] for batch in list_batches(connection)] == ["B1", "B0"]
        assert get_account(connection, "LEAD").name == "Lea"
        assert get_current_checklist(connection, "small-stove") == checklist


@pytest.mark.parametrize("get", [get_person, get_batch, get_account, get_current_checklist])
def test_what_is_not_here_is_named(opened, get):
    with opened[0].reading() as connection, pytest.raises(NotFound) as caught:
        get(connection, "NONE")
    assert caught.value.where == "NONE" and caught.value.todo


@pytest.mark.parametrize("find", [find_person, find_batch, find_account])
def test_what_is_not_here_may_be_asked_for(opened, find):
    with opened[0].reading() as connection:
        assert find(connection, "NONE") is None


def test_the_three_ways_to_ask_for_current_checklists_agree(opened):
    store, checklist = opened
    with store.reading() as connection:
        (definition,) = list_current_definitions(connection)
        assert definition == (checklist.hash, checklist.compiled())
        assert list_current_checklists(connection) == [checklist]
        assert list_current_hashes(connection) == [checklist.hash]


@pytest.mark.parametrize("count", [0, 1, 4, 5, 6])
def test_pieces_hold_everything_once_in_order(count):
    pieces = list(chunked(iter(range(count)), 2))
    assert [item for piece in pieces for item in piece] == list(range(count))
    assert all(len(piece) == 2 for piece in pieces[:-1])
