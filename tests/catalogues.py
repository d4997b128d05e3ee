"""The catalogues of other languages: made and brought up to date from the English in the code.

    python3 -m tests.catalogues           every language that has a folder; says what is left
    python3 -m tests.catalogues xy        starts language xy too

A text that changed comes back as fuzzy: read it, mend it, take the word "fuzzy" out.
"""

import gettext
import json
import re
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from babel import Locale, UnknownLocaleError
from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from qcapp.i18n.catalogue import ENGLISH, FOLDER
from tests.phone_catalogue import FORM_NAMES, build_phone_words

ROOT = Path(__file__).resolve().parent.parent
# Which folders and files of qcapp/ a catalogue serves; the phone's English is a file of its own.
FIGURES = ("reports", "charts", "documents", "stats")
METHODS = [("**.py", "python"), ("**.html", "jinja2")]
# As the pages' own environment is set up: qcapp/web/layout.
OPTIONS = {
    "**.html": {
        "extensions": "jinja2.ext.i18n",
        "newstyle_gettext": "true",
        "trimmed": "true",
        "trim_blocks": "true",
        "lstrip_blocks": "true",
    }
}
KEYWORDS = {
    "phrase": None,
    "phrase_n": (1, 2),
    "sentence": (2,),
    "sentence_n": (2, 3),
    "gettext": None,
    "ngettext": (1, 2),
    "_": None,
}
HEAD = {
    "charset": "utf-8",
    "project": "qcapp",
    "fuzzy": False,
    "header_comment": "# Words of qcapp in another language.",
    "last_translator": "",
    "language_team": "",
    "msgid_bugs_address": "",
    "copyright_holder": "",
}
# Whole numbers among which every plural rule shows all its forms.
SAMPLES = (*range(200), 1000, 1_000_000)
DOMAINS = ("phone", "pages", "figures")


@cache
def extract(domain: str) -> Catalog:
    """All English of a domain, in the order of the files it is in."""
    found = Catalog(**HEAD)
    for where, words, context, comments in (
        _phone_words() if domain == "phone" else _code_words(domain)
    ):
        found.add(words, None, [where], auto_comments=comments, context=context)
    return found


def _code_words(domain: str) -> Iterator[tuple]:
    for path, line, words, comments, context in extract_from_dir(
        ROOT / "qcapp",
        METHODS,
        OPTIONS,
        keywords=KEYWORDS,
        comment_tags=("Words:",),
        strip_comment_tags=True,
    ):
        if (path.split("/")[0] in FIGURES) == (domain == "figures"):
            yield (f"qcapp/{path}", line), words, context, comments


def _phone_words() -> Iterator[tuple]:
    """The key is the context: two keys with one English text may differ elsewhere."""
    path = "static/phone/words/en.json"
    for key, entry in json.loads((ROOT / path).read_text(encoding="utf-8")).items():
        words = entry if isinstance(entry, str) else (entry["one"], entry["other"])
        yield (path, 0), words, key, []


def read_catalogue(language: str, domain: str) -> Catalog:
    path = FOLDER / language / f"{domain}.po"
    if not path.exists():
        return Catalog(locale=language, **HEAD)
    with path.open("rb") as source:
        return read_po(source, locale=language)


def update(language: str, domain: str) -> Catalog:
    """Writes the file anew: what is gone from the code is gone, what is new is empty,
    what changed is fuzzy.
    """
    catalogue = read_catalogue(language, domain)
    # Kept, or every run would change the file and two branches could not be merged.
    made_at = catalogue.creation_date
    catalogue.update(extract(domain))
    catalogue.creation_date = made_at
    catalogue.obsolete.clear()
    if domain == "phone":
        catalogue.get("one other", FORM_NAMES).string = name_forms(language, catalogue)
    path = FOLDER / language / f"{domain}.po"
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as target:
        # Line numbers would change with every edit of the code.
        write_po(
            target,
            catalogue,
            width=140,
            omit_header=False,
            include_lineno=False,
            ignore_obsolete=True,
        )
    return catalogue


def name_forms(language: str, catalogue: Catalog) -> str:
    """CLDR's names of the plural forms in the catalogue's order, such as "one many other"."""
    try:
        rule = Locale.parse(language, sep="-").plural_form
    except (UnknownLocaleError, ValueError):
        # No phone knows its rule either; each takes another in its place.
        return "one other"
    place_of = gettext.c2py(catalogue.plural_expr)
    names = {place_of(n): rule(n) for n in reversed(SAMPLES)}
    return " ".join(names[place] for place in range(catalogue.num_plurals))


def list_gaps(language: str, domain: str) -> list[str]:
    """What is missing, fuzzy or has other placeholders than the English;
    empty when the language is whole.
    """
    kept = read_catalogue(language, domain)
    gaps = []
    for message in extract(domain):
        if not message.id:
            continue
        here = kept.get(
            message.id if isinstance(message.id, str) else message.id[0], message.context
        )
        error = _find_trouble(message, here, kept, domain)
        if error:
            gaps.append(f"{domain} of {language}: {error}: {message.context or ''} {message.id}")
    return gaps


def _find_trouble(message: Message, here: Message | None, kept: Catalog, domain: str) -> str:
    if (
        here is None
        or here.id != message.id
        or not here.string
        or not all(here.string if isinstance(here.string, tuple) else (here.string,))
    ):
        return "not translated"
    if here.fuzzy:
        return "fuzzy"
    if isinstance(here.string, tuple) and len(here.string) != kept.num_plurals:
        return f"{len(here.string)} forms, the language has {kept.num_plurals}"
    # The phone fills {name}, the server %(name)s, which Babel checks itself.
    return (
        _compare_places(message, here)
        if domain == "phone"
        else "; ".join(str(error) for error in here.check(kept))
    )


def _compare_places(message: Message, here: Message) -> str:
    """The first form may leave out what the English one leaves out;
    every other form says all that the English says.
    """
    english = [
        _list_places(words)
        for words in ((message.id,) if isinstance(message.id, str) else message.id)
    ]
    forms = [
        _list_places(words)
        for words in ((here.string,) if isinstance(here.string, str) else here.string)
    ]
    if forms[0] in english and all(form == english[-1] for form in forms[1:]):
        return ""
    return "the places to fill differ"


def _list_places(words: str) -> list[str]:
    return sorted(re.findall(r"\{(\w+)\}", words))


def write_phone_words(language: str, static: Path) -> None:
    """words/<language>.json of the phone, of its catalogue."""
    words = build_phone_words(
        json.loads((static / "phone" / "words" / "en.json").read_text(encoding="utf-8")), language
    )
    text = json.dumps(words, ensure_ascii=False, indent=1) + "\n"
    (static / "phone" / "words" / f"{language}.json").write_text(text, encoding="utf-8")


def main(started: list[str]) -> int:
    left = 0
    there = {path.parent.name for path in FOLDER.glob("*/*.po")}
    for language in sorted({*there, *started} - {ENGLISH}):
        for domain in DOMAINS:
            update(language, domain)
            gaps = list_gaps(language, domain)
            left += len(gaps)
            print(f"{language} {domain}: {len(extract(domain))} texts, {len(gaps)} left")
        write_phone_words(language, ROOT / "static")
    return int(left > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
