"""The picture of a card: what its commonest fault looks like, else how the check is done, else
where on the stove it is.
"""

from qcapp.charts.drawing import hide_beside_words, place_fault
from qcapp.checklist.pictures import name_picture
from qcapp.documents.drawing_print import mark_for_print
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.load_card import CardView


def draw_card_picture(view: CardView, drawings: KeptDrawings, *, on_paper: bool = False) -> str:
    """SVG text; empty where there is none."""
    if view.fault is None or view.fault.check is None or view.checklist is None:
        return ""
    check, shown = view.fault.check, drawings.list_all(view.checklist)
    of_fault = (one.picture for one in check.faults if one.id == view.fault.fault)
    for name in (*of_fault, check.picture):
        picture = shown.get(name_picture(name)) if name else None
        if picture:
            return picture if on_paper else hide_beside_words(picture)
    drawing = shown.get(view.checklist.drawing)
    if drawing is None:
        return ""
    if on_paper:
        marks = [{"part": check.part, "failed": view.fault.failed, "critical": 0}]
        return mark_for_print(drawing, marks)
    return place_fault(drawing, check.part, None)
