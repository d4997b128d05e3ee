"""Beside which field of a page an error of a draft is shown."""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from qcapp.checklist.source import ChecklistError
from qcapp.i18n.localized_text import join
from qcapp.web.checklists.plain_errors import say_error


def place_errors(
    errors: Iterable[ChecklistError], places: Collection[str], source: Mapping[str, Any]
) -> dict[str, str]:
    """{place: what is wrong and what to do}; an error goes to its own key or the nearest around it,
    else to the top ("").
    """
    found: dict[str, list[str]] = {}
    for error in errors:
        found.setdefault(find_place(error, places), []).append(say_error(error, source))
    return {place: join(" ", texts) for place, texts in found.items()}


def find_place(error: ChecklistError, places: Collection[str]) -> str:
    """Its own key or the nearest around it; empty where none is on the page."""
    place = error.key
    while place and place not in places:
        place = place.rpartition(".")[0]
    return place
