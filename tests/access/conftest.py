"""Passwords are hashed at the least cost here: dozens of tests sign in, and the full cost is 64 MiB
each time.

The product has no switch for it, because a switch could be left on; the tests put another hasher
in.
"""

import pytest
from argon2 import PasswordHasher

from qcapp.access import password

FULL, NOBODY = password.HASHER, password.NOBODYS_HASH
CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
CHEAP_NOBODY = CHEAP.hash("a password that nobody has")


@pytest.fixture(autouse=True)
def cheap_passwords(monkeypatch):
    monkeypatch.setattr(password, "HASHER", CHEAP)
    monkeypatch.setattr(password, "NOBODYS_HASH", CHEAP_NOBODY)


@pytest.fixture
def full_cost(cheap_passwords, monkeypatch):
    """For a test that looks at the cost itself."""
    monkeypatch.setattr(password, "HASHER", FULL)
    monkeypatch.setattr(password, "NOBODYS_HASH", NOBODY)
