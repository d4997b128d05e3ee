"""Words for the units of the checklists that come with the program: what is counted, and days.
Signs such as mm and a yard's own units stand as they are.
"""

from qcapp.i18n.phrase import Phrase, phrase

UNITS: dict[str, Phrase] = {
    "days": phrase("days"),
    "holes": phrase("holes"),
    "liners": phrase("liners"),
    "measures": phrase("measures"),
    "parts": phrase("parts"),
    "points": phrase("points"),
    "rivets": phrase("rivets"),
    "tabs": phrase("tabs"),
}


def name_unit(unit: str) -> str:
    """A unit as pages and papers say it: a phrase where there is one."""
    return UNITS.get(unit, unit)
