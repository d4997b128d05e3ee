"""What the phone's words say of their languages; tests/phone_catalogue.py makes these words."""

from collections.abc import Mapping

from qcapp.i18n.catalogue import get_direction

Entry = str | dict[str, str]
# In each catalogue: the language's own name for itself.
OWN_NAME = "app.language"


def describe_languages(words: Mapping[str, Mapping[str, Entry]]) -> list[dict[str, str]]:
    """[{tag, name, direction}] of each language, the name as it calls itself."""
    return [
        {"tag": language, "name": str(entries[OWN_NAME]), "direction": get_direction(language)}
        for language, entries in words.items()
    ]
