"""The drawing of the stove for black and white paper: parts with faults hatched and counted, or
parts numbered.
"""

from collections.abc import Mapping, Sequence
from typing import Any
from xml.etree import ElementTree

SVG = "http://www.w3.org/2000/svg"
ElementTree.register_namespace("", SVG)

HATCH = (
    f'<defs xmlns="{SVG}"><pattern id="hatch" width="4" height="4" patternUnits="userSpaceOnUse" '
    f'patternTransform="rotate(45)">'
    '<path d="M0 0V4" stroke="black" stroke-width="1.6" fill="none"/></pattern></defs>'
)
THICK = 2.6
THIN = 0.9


def mark_for_print(drawing: str, parts: Sequence[dict[str, Any]]) -> str:
    """SVG text in black; parts: the document's, with part, failed and critical.

    A failed part is drawn thick and hatched, with its number in a label: cut-cornered, black and
    white if one of its faults was critical. A part that the drawing does not know has only its row
    in the table.
    """
    # A drawing of a checklist: read_drawing_ids let it in.
    root = ElementTree.fromstring(drawing)  # noqa: S314
    root.set("color", "black")
    root.insert(0, ElementTree.fromstring(HATCH))  # noqa: S314
    failed = {part["part"]: part for part in parts if part["failed"]}
    labels = []
    for group in root.iter(f"{{{SVG}}}g"):
        if group.get("class") != "part":
            continue
        part = failed.get(group.get("id"))
        group.set("stroke-width", f"{THICK if part else THIN}")
        _fill(group, is_failed=part is not None)
        hit = group.find(f".//{{{SVG}}}rect[@class='hit']")
        if part and hit is not None:
            labels.extend(_label(hit, str(part["failed"]), is_critical=part["critical"] > 0))
    root.extend(labels)
    return ElementTree.tostring(root, encoding="unicode")


def _fill(group: ElementTree.Element, *, is_failed: bool) -> None:
    for shape in group.iter():
        if shape.get("class") == "fill":
            shape.set("fill", "url(#hatch)" if is_failed else "none")
            shape.set("fill-opacity", "1")


def _label(
    hit: ElementTree.Element, words: str, *, is_critical: bool, is_round: bool = False
) -> list[ElementTree.Element]:
    x = float(hit.get("x", 0)) + float(hit.get("width", 0)) / 2
    y = float(hit.get("y", 0)) + float(hit.get("height", 0)) / 2
    half, cut = 6 + 3.4 * len(words), 4 if is_critical else 0
    corners = [
        (-half + cut, -9),
        (half - cut, -9),
        (half, -9 + cut),
        (half, 9 - cut),
        (half - cut, 9),
        (-half + cut, 9),
        (-half, 9 - cut),
        (-half, -9 + cut),
    ]
    path = "M" + "L".join(f"{x + dx:g} {y + dy:g}" for dx, dy in corners) + "Z"
    paper, ink = ("black", "white") if is_critical else ("white", "black")
    shape = (
        {"rx": f"{half}", "ry": "10", "cx": f"{x:g}", "cy": f"{y:g}"} if is_round else {"d": path}
    )
    box = ElementTree.Element(
        f"{{{SVG}}}{'ellipse' if is_round else 'path'}",
        {**shape, "fill": paper, "stroke": "black", "stroke-width": "1.4"},
    )
    style = {
        "fill": ink,
        "stroke": "none",
        "font-family": "Libertinus Serif",
        "font-weight": "700",
        "font-size": "14",
        "text-anchor": "middle",
    }
    text = ElementTree.Element(f"{{{SVG}}}text", {"x": f"{x:g}", "y": f"{y + 4.8:g}", **style})
    text.text = words
    return [box, text]


def number_parts(drawing: str, numbers: Mapping[str, str]) -> str:
    """SVG text in black and white, each named part with its number in a ring at its middle."""
    # A drawing of a checklist: read_drawing_ids let it in.
    root = ElementTree.fromstring(drawing)  # noqa: S314
    root.set("color", "black")
    labels = []
    for part, number in numbers.items():
        group = root.find(f".//*[@id='{part}']")
        hit = None if group is None else group.find(f".//{{{SVG}}}rect[@class='hit']")
        if hit is not None:
            labels.extend(_label(hit, number, is_critical=False, is_round=True))
    root.extend(labels)
    return ElementTree.tostring(root, encoding="unicode")
