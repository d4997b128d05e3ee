"""How a paper's words get from Python to the typesetter: said in one language, with slots that the template fills."""

from collections.abc import Mapping
from typing import Any

from qcapp.i18n.catalogue import ENGLISH, Words
from qcapp.i18n.message import Phrase, phrase
from qcapp.reports.terms import DISPOSITIONS, RULES, SEVERITIES, STAGES, VERDICTS

# phrase("Page %(page)s", **SLOTS) becomes "Page {page}", whose slot `fill` of pieces.typ replaces by content. What a person
# typed always comes through a slot: it is then never searched for slots itself.
SLOTS = {
    name: f"{{{name}}}"
    for name in (
        "address",
        "attributes",
        "batch",
        "by",
        "command",
        "computed",
        "digest",
        "moment",
        "number",
        "page",
        "pages",
        "photo",
        "reason",
        "seed",
        "serial",
        "sign",
        "size",
        "text",
        "title",
        "trade",
        "yard",
    )
}


def say_all(value: Any, words: Words) -> Any:
    """The same objects and lists, every phrase in them said; other texts, such as names, stay."""
    if isinstance(value, Phrase):
        return words.say(value)
    if isinstance(value, Mapping):
        return {key: say_all(inner, words) for key, inner in value.items()}
    return [say_all(inner, words) for inner in value] if isinstance(value, list | tuple) else value


def prepare(given: Mapping[str, Any], words: Words) -> dict[str, Any]:
    """What a template gets: `given` said, `language` for the typesetter, and what every paper shares under `texts`."""
    shared = {
        "page": phrase("Page %(page)s of %(pages)s", **SLOTS),
        "codes": phrase(
            "Signs that the fonts of this paper cannot show stand as %(sign)s.", **SLOTS
        ),
        "revision": phrase("%(title)s, revision %(number)s", **SLOTS),
        "revision_of": phrase("%(title)s revision %(number)s", **SLOTS),
        "severities": SEVERITIES,
        "dispositions": DISPOSITIONS,
        "verdicts": VERDICTS,
        "rules": RULES,
        "stages": STAGES,
    }
    return say_all(
        {
            **given,
            "texts": {**shared, **given["texts"]},
            "language": words.language.split("-")[0],
            "decimal_sign": words.writing.decimal,
            "is_translated": words.language != ENGLISH,
        },
        words,
    )
