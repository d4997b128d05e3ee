"""Names of the SVG files that show a checklist: its drawing, the pictures that its parts name."""

from collections.abc import Iterator
from typing import Any

# The folder of pictures of checks, faults and options, beside the checklists; also in the names of
# the reference and in static/phone/js.
PICTURES = "pictures"


def name_picture(picture: str) -> str:
    """The file of a picture, as the reference and the server name it."""
    return f"{PICTURES}/{picture}.svg"


def list_shown(compiled: dict[str, Any]) -> set[str]:
    """Names of the SVG files that show a checklist (its JSON shape): round-stove.svg,
    pictures/tape-across.svg, ... Whatever part of it may have a picture: a check, a fault.
    """
    return {compiled["drawing"], *(name_picture(name) for name in _find_pictures(compiled))}


def _find_pictures(part: Any) -> Iterator[str]:
    if isinstance(part, dict):
        if isinstance(named := part.get("picture"), str):
            yield named
        part = list(part.values())
    for inner in part if isinstance(part, list) else ():
        yield from _find_pictures(inner)
