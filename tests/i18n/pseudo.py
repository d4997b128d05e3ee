"""Languages that nobody speaks, to see what a screen does with long words and with writing from the
right.

en-XA: English with accents, about three fifths longer. ar-XB: English in Arabic letters, from the
right to the left.
"""

import re
import shutil
from collections.abc import Callable
from pathlib import Path
from unittest import mock

import yaml
from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po

from qcapp.i18n import catalogue
from tests import catalogues
from tests.conftest import CHECKOUT
from tests.phone_catalogue import FORM_NAMES

LONG, MIRRORED = "en-XA", "ar-XB"
SHARE = 1.6
FILLER = ("ênçôré", "ûñ", "pèû", "plüs", "łøñg")
ACCENTS = str.maketrans("aceinosuyACEINOSU", "àçéîñöšüÿÀÇÉÎÑÖŠÜ")
ARABIC = str.maketrans("abcdefghijklmnopqrstuvwxyz", "ابجدهفغحيكخلمنوطقرستثضظشىز")
PLACE = re.compile(r"(\{\w+\})")


def lengthen(text: str) -> str:
    """Vowels doubled in long words, as compounds are;
    then more words until it is three fifths longer.
    """
    words = [
        re.sub(r"([aeiou])", r"\1\1", word, count=2)
        if len(word) > 4 and not PLACE.search(word)
        else word
        for word in text.split(" ")
    ]
    said, filler = " ".join(words), 0
    while len(said) < SHARE * len(text):
        said += " " + FILLER[filler % len(FILLER)]
        filler += 1
    return _outside_places(said, lambda part: part.translate(ACCENTS))


def mirror(text: str) -> str:
    return _outside_places(text, lambda part: part.lower().translate(ARABIC))


def _outside_places(text: str, change: Callable[[str], str]) -> str:
    return "".join(part if PLACE.fullmatch(part) else change(part) for part in PLACE.split(text))


LANGUAGES = {LONG: lengthen, MIRRORED: mirror}


def write_languages(folder: Path, static: Path) -> None:
    """The real catalogues and, beside them, one each for the two, and what the phone gets of them:
    nothing else makes a language.
    """
    shutil.copytree(catalogue.FOLDER, folder)
    shutil.copytree(CHECKOUT / "static", static)
    for language, say in LANGUAGES.items():
        said = Catalog(locale="ar" if language == MIRRORED else None, charset="utf-8", fuzzy=False)
        said.update(catalogues.extract("phone"))
        for message in said:
            if message.id and isinstance(message.id, str):
                message.string = say(message.id)
            elif message.id:
                message.string = (
                    say(message.id[0]),
                    *[say(message.id[1])] * (said.num_plurals - 1),
                )
        said.get("one other", FORM_NAMES).string = catalogues.name_forms(
            language.split("-")[0], said
        )
        (folder / language).mkdir()
        with (folder / language / "phone.po").open("wb") as target:
            write_po(target, said)
        with mock.patch.object(catalogue, "FOLDER", folder):
            catalogues.write_phone_words(language, static)


def write_checklists(folder: Path) -> None:
    """The shipped checklists with a text of each of the two beside the English."""
    shutil.copytree(CHECKOUT / "checklists", folder)
    for path in folder.glob("*.yaml"):
        found = yaml.safe_load(path.read_text(encoding="utf-8"))
        _add_texts(found)
        path.write_text(
            yaml.safe_dump(found, allow_unicode=True, sort_keys=False), encoding="utf-8"
        )


def _add_texts(node) -> None:
    if isinstance(node, dict) and "en" in node:
        node.update({language: say(node["en"]) for language, say in LANGUAGES.items()})
    elif isinstance(node, dict | list):
        for one in node.values() if isinstance(node, dict) else node:
            _add_texts(one)
