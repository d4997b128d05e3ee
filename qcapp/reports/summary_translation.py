"""An issued summary in another language. The document is frozen and signed in English: each sentence that the
program wrote is recognised in it and said anew; what a person typed, and what is not recognised, stays as it stands."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.i18n.catalogue import Locale, load_recogniser
from qcapp.i18n.localized_text import ENGLISH
from qcapp.i18n.stored import Recogniser
from qcapp.reports.terms import NO_REASON, NOT_NAMED

FROM_CHECKLIST = {"ask", "title", "fault", "unit"}
OWN_SENTENCES = {"sentence", "what", "before", "after", "why_no_index", "note"}
OWN_LISTS = {"reasons", "cautions"}


def translate_document(
    document: Mapping[str, Any], locale: Locale, checklist_texts: Mapping[str, str] = {}
) -> dict[str, Any]:
    """A copy to show. checklist_texts: titles, questions and faults of the checklists in this language, by the English one."""
    if locale.language == ENGLISH:
        return dict(document)
    recogniser = load_recogniser(locale.language)
    texts = {NOT_NAMED: locale.translate(NOT_NAMED), **checklist_texts}
    shown = {
        key: _say_inside(value, key, _make_say(locale, recogniser), texts)
        for key, value in document.items()
    }
    for row, stored in zip(
        shown["concessions"] + shown["not_released"],
        document["concessions"] + document["not_released"],
        strict=True,
    ):
        row["reason"] = _say_missing(stored["reason"], locale)
    # A batch's title is typed by hand.
    return {**shown, "batch": dict(document["batch"])}


def collect_texts(checklists: Iterable[Checklist], language: str) -> dict[str, str]:
    """What the checklists themselves say in a language, by the English that a summary has frozen; the first named wins."""
    found: dict[str, str] = {}
    for checklist in checklists:
        asked = [check.ask for check in checklist.checks] + [
            fault.title for check in checklist.checks for fault in check.faults
        ]
        for text in (checklist.title, *(part.title for part in checklist.parts), *asked):
            if language in text:
                found.setdefault(text[ENGLISH], text[language])
    return found


def _make_say(locale: Locale, recogniser: Recogniser) -> Callable[[str], str]:
    def say(text: str) -> str:
        found = recogniser.recognise(text)
        return text if found is None else locale.translate(found)

    return say


def _say_missing(reason: str | None, locale: Locale) -> str | None:
    """A reason is somebody's own words, but for the one that stands where there is none."""
    return locale.translate(NO_REASON) if reason == NO_REASON else reason


def _say_inside(value: Any, key: str, say: Callable[[str], str], texts: Mapping[str, str]) -> Any:
    if isinstance(value, dict):
        return {inner: _say_inside(part, inner, say, texts) for inner, part in value.items()}
    if isinstance(value, list):
        return [
            say(part) if key in OWN_LISTS else _say_inside(part, key, say, texts) for part in value
        ]
    if not isinstance(value, str) or not value:
        return value
    if key in FROM_CHECKLIST:
        return texts.get(value, value)
    return say(value) if key in OWN_SENTENCES else value
