"""The phone's own words by their keys, so that a text that is worded anew breaks no test."""

import json
from functools import cache

from tests.conftest import CHECKOUT
from tests.phone_catalogue import build_phone_words

WORDS = CHECKOUT / "static" / "phone" / "words" / "en.json"


@cache
def list_words(language: str = "en") -> dict:
    return build_phone_words(json.loads(WORDS.read_text(encoding="utf-8")), language)


def word(key: str, **params: object) -> str:
    """What the phone shows in English for a key; `n` chooses the plural form."""
    entry = list_words()[key]
    if not isinstance(entry, str):
        entry = entry["one" if params.get("n") == 1 else "other"]
    return entry.format(**params).strip()
