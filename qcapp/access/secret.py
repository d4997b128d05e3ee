"""Tokens: 256 random bits for the holder, their SHA-256 for the database."""

import hashlib
import secrets


def make_token() -> str:
    return secrets.token_urlsafe(32)


def hash_token(token: str) -> str:
    """A token is random, so that a plain hash is enough: there is nothing to guess.

    Half of a surrogate pair is hashed too: it is a token that nobody holds, not a fault.
    """
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()
