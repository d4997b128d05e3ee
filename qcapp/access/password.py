"""Passwords: Argon2id, the same work whether the account is there or not.

RFC 9106 section 4, second recommended choice: 3 passes over 64 MiB with 4 lanes; these are
argon2-cffi's defaults, written out so that an update of it changes nothing unseen.
"""

import threading

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from qcapp.access.easy_password import is_easy
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

HASHER = PasswordHasher(time_cost=3, memory_cost=65_536, parallelism=4, hash_len=32, salt_len=16)
MIN_LENGTH, MAX_LENGTH = 12, 200
# What an unknown account is checked against: of a random password that nobody knows.
NOBODYS_HASH = (
    "$argon2id$v=19$m=65536,t=3,p=4"
    "$aZNv0upul8EFGUM944VD3A$U9F+d1pM5PYRIQxl3DNalMqjFZyPDYiXdxvnz96t7+g"
)
# A flood of sign-ins must not eat the laptop's memory: one hashing at a time, 64 MiB.
HASHING = threading.Lock()


def hash_password(password: str) -> str:
    with HASHING:
        return HASHER.hash(password)


def is_password(password: str, password_hash: str | None) -> bool:
    """False for a wrong one, and for no account (None) after the same work."""
    with HASHING:
        try:
            HASHER.verify(password_hash or NOBODYS_HASH, password)
        except (VerificationError, InvalidHashError):
            return False
    return password_hash is not None


def check_new_password(password: str, again: str, code: str) -> None:
    """Raises BadInput.

    Length counts, mixtures of characters do not (NIST SP 800-63B, section 5.1.1, from memory).
    """
    if password != again:
        raise BadInput(
            phrase("the two passwords are not the same"),
            "password",
            phrase("type the same one twice"),
        )
    if not MIN_LENGTH <= len(password) <= MAX_LENGTH:
        raise BadInput(
            phrase("the password has %(n)s characters", n=len(password)),
            "password",
            phrase(
                "use %(least)s to %(most)s; three or four unrelated words work well",
                least=MIN_LENGTH,
                most=MAX_LENGTH,
            ),
        )
    if is_easy(password, code):
        raise BadInput(
            phrase("the password is easy to guess"),
            "password",
            phrase(
                "leave out the sign-in code, well-known words and rows of keys; three or four "
                "unrelated words work well"
            ),
        )
