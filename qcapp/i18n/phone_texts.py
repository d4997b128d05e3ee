"""The phone's words in every language: its English file and, of each other language, that with the
catalogue phone.po laid over.

What a catalogue lacks stays English. The files static/phone/words/<language>.json are made of them
once, by python3 -m tests.catalogues, and a test holds that they are up to date. A server then need
not read a catalogue at each start.
"""

from collections.abc import Mapping

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from qcapp.i18n import catalogue
from qcapp.i18n.catalogue import get_direction
from qcapp.i18n.phrase import ENGLISH

Entry = str | dict[str, str]
# In each catalogue: the language's own name for itself.
OWN_NAME = "app.language"
# And its plural forms in the catalogue's order, by the names that Intl.PluralRules gives (Unicode
# CLDR). Kept there, because asking Babel for them costs a waiting server 5 MB; tests/catalogues.py
# writes them.
FORM_NAMES = "app.plural_forms"


def list_phone_languages() -> tuple[str, ...]:
    """English first, then each language with a catalogue of the phone, by its tag."""
    return (ENGLISH, *sorted(path.parent.name for path in catalogue.FOLDER.glob("*/phone.po")))


def build_phone_words(english: Mapping[str, Entry], language: str) -> dict[str, Entry]:
    """{key: text | {one, other, ...}} of a language that is there."""
    if language == ENGLISH:
        return dict(english)
    with (catalogue.FOLDER / language / "phone.po").open("rb") as source:
        translated = read_po(source)
    names = str(_translate_entry(translated, FORM_NAMES, english[FORM_NAMES], [])).split()
    return {key: _translate_entry(translated, key, entry, names) for key, entry in english.items()}


def _translate_entry(translated: Catalog, key: str, entry: Entry, names: list[str]) -> Entry:
    """One entry; the English where the other is missing or not yet read again."""
    message = translated.get(entry if isinstance(entry, str) else entry["one"], key)
    if message is None or message.fuzzy or not message.string:
        return entry
    if isinstance(message.string, str):
        return message.string
    # Some languages say fractions alone by a form of their own; they are said like the last one.
    return (
        {**dict(zip(names, message.string, strict=True)), "other": message.string[-1]}
        if all(message.string)
        else entry
    )


def describe_languages(words: Mapping[str, Mapping[str, Entry]]) -> list[dict[str, str]]:
    """[{tag, name, direction}] of each language, the name as it calls itself."""
    return [
        {"tag": language, "name": str(entries[OWN_NAME]), "direction": get_direction(language)}
        for language, entries in words.items()
    ]
