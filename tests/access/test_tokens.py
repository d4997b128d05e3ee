"""Tokens that nobody holds, and that no encoder of a browser would send, are refused in words."""

import hashlib

import pytest

from qcapp.access.card_links import open_card_link
from qcapp.access.links import LONGEST_TOKEN
from qcapp.access.secret import hash_token, make_token
from qcapp.access.summary_links import open_summary_link
from qcapp.errors import NotFound
from tests.builders import NOW, open_yard

ODD = ["", "\0", "é" * 20, "\ud800", "x\udfff", "\U0001f525", "x" * (LONGEST_TOKEN + 1)]


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    return open_yard(tmp_path_factory.mktemp("tokens")).store


@pytest.mark.parametrize("token", ODD, ids=ascii)
def test_odd_token_opens_neither_link(store, token):
    with pytest.raises(NotFound) as summary:
        open_summary_link(store, token, what="page", now=NOW)
    with pytest.raises(NotFound) as card:
        open_card_link(store, token, NOW)
    assert str(summary.value) == str(card.value)


def test_hash_of_a_token_is_what_the_databases_of_yards_hold():
    token = make_token()
    assert hash_token(token) == hashlib.sha256(token.encode("ascii")).hexdigest()


def test_two_halves_of_a_pair_are_two_tokens():
    assert len({hash_token(token) for token in ODD}) == len(ODD)
