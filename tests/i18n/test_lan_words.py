"""The page with the yard's certificate says the same in every language: no text missing,
the same places filled in, the same pictures.
"""

import json
import re
from pathlib import Path

import pytest

from qcapp.i18n.catalogue import ENGLISH, list_languages

FOLDER = Path(__file__).resolve().parent.parent.parent / "qcapp" / "lan" / "words"


def outline(words):
    """Keys, pictures and {places}, without the words."""
    if isinstance(words, dict):
        return {key: value if key == "picture" else outline(value) for key, value in words.items()}
    if isinstance(words, list):
        return [outline(value) for value in words]
    assert words.strip()
    return sorted(re.findall(r"\{\w+\}|authority\.crt|SHA-256|qcapp yard authority", words))


@pytest.mark.parametrize(
    "language", [language for language in list_languages() if language != ENGLISH]
)
def test_the_certificate_page_is_whole_in_every_language_of_the_pages(language):
    english, theirs = (
        json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
        for name in (ENGLISH, language)
    )
    assert outline(theirs) == outline(english)
    assert theirs["intro"] != english["intro"] and theirs["caution"] != english["caution"]
