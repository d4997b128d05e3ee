"""Parts placed on a drawing by hand: a mark in the drawing's own units that carries the part's id.

A drawing from any program has no parts; whoever places one gives the middle and the width of its
mark. A part that is drawn as an outline of its own (an element with its id) stays as it is.
"""

import re
from dataclasses import dataclass
from xml.etree import ElementTree

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

SVG = "http://www.w3.org/2000/svg"
# Tells a mark placed here from an outline that was drawn.
PLACED = "placed"
NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")
# Of the drawing's width: large enough for a thumb.
USUAL_SHARE = 0.12
MAX_DRAWING_BYTES = 200_000
# Width of the shipped drawings, and between which another one needs no scaling.
USUAL_WIDE, LEAST_WIDE, MOST_WIDE = 340, 200, 500


@dataclass(frozen=True)
class Mark:
    """part: its id; x, y: the middle; width: of the area that a thumb may hit. Drawing's units."""

    part: str
    x: float
    y: float
    width: float


@dataclass(frozen=True)
class ViewBox:
    """The drawing's own units."""

    x: float
    y: float
    width: float
    height: float

    @property
    def usual_width(self) -> float:
        """Of a new mark."""
        return round(self.width * USUAL_SHARE, 1)

    def has(self, x: float, y: float) -> bool:
        return self.x <= x <= self.x + self.width and self.y <= y <= self.y + self.height


def read_view_box(svg: str) -> ViewBox:
    """Raises BadInput for a drawing that says no size."""
    return _view_box(_parse(svg))


def _view_box(root: ElementTree.Element) -> ViewBox:
    given = re.split(r"[\s,]+", root.get("viewBox", "").strip())
    if len(given) == 4 and all(NUMBER.fullmatch(one) for one in given):
        box = ViewBox(*(float(one) for one in given))
        if box.width > 0 and box.height > 0:
            return box
    sides = [NUMBER.match(root.get(name, "")) for name in ("width", "height")]
    if all(sides):
        width, height = (float(found.group()) for found in sides if found)
        if width > 0 and height > 0:
            return ViewBox(0, 0, width, height)
    raise BadInput(
        phrase("the drawing does not say how large it is"),
        phrase("drawing"),
        phrase("export it again as plain SVG with width and height"),
    )


def prepare_drawing(svg: str) -> str:
    """With a viewBox, by which phones fit it to their screen, and about as wide as the shipped
    drawings: lines and badges of pages and phones are made for that. The text has been let in
    before. Raises BadInput for a drawing that says no size.
    """
    root = _parse(svg)
    box = _view_box(root)
    if not LEAST_WIDE <= box.width <= MOST_WIDE:
        scale = USUAL_WIDE / box.width
        inner = ElementTree.Element(f"{{{SVG}}}g")
        inner.set("transform", f"scale({scale:.6g}) translate({-box.x:g} {-box.y:g})")
        inner.extend(list(root))
        for child in list(root):
            root.remove(child)
        root.append(inner)
        box = ViewBox(0, 0, USUAL_WIDE, box.height * scale)
    root.set("viewBox", " ".join(_number(one) for one in (box.x, box.y, box.width, box.height)))
    for name in ("width", "height"):
        root.attrib.pop(name, None)
    return _write(root)


def place_part(svg: str, mark: Mark) -> str:
    """The drawing with the mark, in place of an earlier one of the part.

    Raises BadInput where the middle is not on the drawing, or the part is drawn as an outline.
    """
    root = _parse(svg)
    box = _view_box(root)
    if not box.has(mark.x, mark.y) or not 0 < mark.width <= box.width:
        raise BadInput(
            phrase("this place is not on the drawing"),
            mark.part,
            phrase(
                "across: %(left)s to %(right)s, down: %(top)s to %(bottom)s",
                left=_number(box.x),
                right=_number(box.x + box.width),
                top=_number(box.y),
                bottom=_number(box.y + box.height),
            ),
        )
    _remove(root, mark.part)
    root.append(_draw(mark))
    return _write(root)


def _remove(root: ElementTree.Element, part: str) -> None:
    for parent in root.iter():
        for child in list(parent):
            if child.get("id") != part:
                continue
            if PLACED not in child.get("class", "").split():
                raise BadInput(
                    phrase("this part is drawn as an outline already"),
                    part,
                    phrase("it stays as it is drawn"),
                )
            parent.remove(child)


def _draw(mark: Mark) -> ElementTree.Element:
    """As shipped drawings have a part: an area for the thumb, and what lights up."""
    half = mark.width / 2
    group = ElementTree.Element(f"{{{SVG}}}g", {"id": mark.part, "class": f"part {PLACED}"})
    area = {
        "class": "hit",
        "x": _number(mark.x - half),
        "y": _number(mark.y - half),
        "width": _number(mark.width),
        "height": _number(mark.width),
        "stroke": "none",
        "fill": "none",
        "pointer-events": "all",
    }
    ring = {
        "class": "fill",
        "cx": _number(mark.x),
        "cy": _number(mark.y),
        "r": _number(half * 0.8),
        "fill": "currentColor",
        "fill-opacity": "0.2",
        "stroke": "currentColor",
    }
    ElementTree.SubElement(group, f"{{{SVG}}}rect", area)
    ElementTree.SubElement(group, f"{{{SVG}}}circle", ring)
    return group


def list_marks(svg: str) -> list[Mark]:
    """The marks placed by hand, in the order in which they were placed."""
    return [
        _read(element)
        for element in _parse(svg).iter()
        if PLACED in element.get("class", "").split() and "id" in element.attrib
    ]


def _read(group: ElementTree.Element) -> Mark:
    area = next(child for child in group if child.get("class") == "hit")
    x, y, width = (float(area.get(name, "0")) for name in ("x", "y", "width"))
    return Mark(group.attrib["id"], round(x + width / 2, 2), round(y + width / 2, 2), width)


def _parse(svg: str) -> ElementTree.Element:
    # It was let in before by drawing.py.
    return ElementTree.fromstring(svg)  # noqa: S314


def _write(root: ElementTree.Element) -> str:
    ElementTree.register_namespace("", SVG)
    return ElementTree.tostring(root, encoding="unicode")


def _number(value: float) -> str:
    return f"{round(value, 2):g}"
