"""What a fault looks like, as its checklist draws it, beside its words."""

from collections.abc import Mapping

from qcapp.charts.drawing import hide_beside_words
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.pictures import name_picture


def draw_fault(check: Check | None, fault: str | None, drawings: Mapping[str, str]) -> str:
    """SVG text, empty where the check is not known or its checklist has no picture of the fault.

    drawings: SVG text by file name.
    """
    faults = check.faults if check else ()
    picture = next((one.picture for one in faults if one.id == fault), None)
    source = drawings.get(name_picture(picture)) if picture else None
    return hide_beside_words(source) if source else ""
