"""How a paper's words get from Python to the typesetter: said in one language, with slots that the
template fills.
"""

from collections.abc import Mapping
from typing import Any

from qcapp.i18n.catalogue import Locale
from qcapp.i18n.phrase import ENGLISH, Phrase, phrase
from qcapp.inspection.terms import DISPOSITIONS, REGIMES, RULES, SEVERITIES, VERDICTS

# phrase("Page %(page)s", **SLOTS) becomes "Page {page}", whose slot `fill` of pieces.typ replaces
# by content. What a person typed always comes through a slot: it is then never searched for slots
# itself.
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


def translate_all(value: Any, locale: Locale) -> Any:
    """The same objects and lists, every phrase in them said; other texts, such as names, stay."""
    if isinstance(value, Phrase):
        return locale.translate(value)
    if isinstance(value, Mapping):
        return {key: translate_all(inner, locale) for key, inner in value.items()}
    return (
        [translate_all(inner, locale) for inner in value]
        if isinstance(value, list | tuple)
        else value
    )


def prepare(given: Mapping[str, Any], locale: Locale) -> dict[str, Any]:
    """What a template gets: `given` said, `language` for the typesetter, and what every paper
    shares under `texts`.
    """
    shared = {
        "page": phrase("Page %(page)s of %(pages)s", **SLOTS),
        "codes": phrase(
            "Characters that the fonts of this paper do not have are shown as %(sign)s.", **SLOTS
        ),
        "revision": phrase("%(title)s, revision %(number)s", **SLOTS),
        "revision_of": phrase("%(title)s revision %(number)s", **SLOTS),
        "severities": SEVERITIES,
        "dispositions": DISPOSITIONS,
        "verdicts": VERDICTS,
        "rules": RULES,
        "regimes": REGIMES,
    }
    prepared: dict[str, Any] = translate_all(
        {
            **given,
            "texts": {**shared, **given["texts"]},
            "language": locale.language.split("-")[0],
            "decimal_separator": locale.number_format.decimal,
            "is_translated": locale.language != ENGLISH,
        },
        locale,
    )
    return prepared
