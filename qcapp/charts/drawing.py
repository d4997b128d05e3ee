"""The drawing of the stove as a map of faults: each part marked with its count."""

from collections.abc import Mapping
from xml.etree import ElementTree

from qcapp.charts.frame import ENGLISH_WORDS
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import translate_phrase

SVG = "http://www.w3.org/2000/svg"
ElementTree.register_namespace("", SVG)


def mark_drawing(
    drawing: str,
    marks: Mapping[str, int | str],
    *,
    title: str,
    description: str,
    locale: Locale = ENGLISH_WORDS,
    tones_largest: bool = True,
) -> str:
    """The SVG text with a badge on every part whose mark is not empty or 0.

    marks: a count, or a rate as text, by part id. The badge sits in the middle of the part's
    first hit area, since parts such as rivets are spread out. The figure is written out and
    only the largest is toned, so the map is read without colour (tones_largest: False where marks
    are names, such as the numbers of a list); title and description serve those
    who cannot see it.
    """
    # A drawing of a checklist: read_drawing_ids let it in.
    root = ElementTree.fromstring(drawing)  # noqa: S314
    root.set("role", "img")
    root.set(
        "aria-label", f"{translate_phrase(locale, title)}. {translate_phrase(locale, description)}"
    )
    badges, largest = [], max(map(_size, marks.values()), default=0)
    for part, mark in marks.items():
        group = root.find(f".//*[@id='{part}']")
        if group is None or not mark:
            continue
        is_largest = tones_largest and _size(mark) == largest
        if is_largest:
            group.set("class", f"{group.get('class', 'part')} failed")
        hit = group.find(f".//{{{SVG}}}rect[@class='hit']")
        if hit is not None:
            badges.append(
                _badge(
                    hit,
                    translate_phrase(locale, mark) if isinstance(mark, str) else str(mark),
                    is_largest=is_largest,
                )
            )
    root.extend(badges)
    return ElementTree.tostring(root, encoding="unicode")


def place_fault(drawing: str, part: str, place: tuple[int, int] | None) -> str:
    """The SVG text with the part of a fault toned, and a cross where the inspector tapped.

    place: thousandths of the drawing's width and height. It says nothing by itself: words stand
    beside it.
    """
    # A drawing of a checklist: read_drawing_ids let it in.
    root = ElementTree.fromstring(drawing)  # noqa: S314
    group = root.find(f".//*[@id='{part}']")
    if group is not None:
        group.set("class", f"{group.get('class', 'part')} failed")
    _hide(root)
    box = [float(number) for number in root.get("viewBox", "").replace(",", " ").split()]
    if place is not None and len(box) == 4:
        left, upper, width, height = box
        root.append(_cross(left + place[0] * width / 1000, upper + place[1] * height / 1000))
    return ElementTree.tostring(root, encoding="unicode")


def hide_beside_words(picture: str) -> str:
    """The SVG text of a checklist's picture as a page shows it: words beside it say the same."""
    # A picture of a checklist: check_picture let it in.
    root = ElementTree.fromstring(picture)  # noqa: S314
    _hide(root)
    return ElementTree.tostring(root, encoding="unicode")


def _hide(root: ElementTree.Element) -> None:
    root.set("aria-hidden", "true")
    # Several stand on one page: an id would be there several times.
    for element in root.iter():
        element.attrib.pop("id", None)


def _cross(x: float, y: float) -> ElementTree.Element:
    cross = ElementTree.Element(f"{{{SVG}}}g", {"class": "place"})
    circle = {"cx": f"{x:g}", "cy": f"{y:g}", "r": "11"}
    ElementTree.SubElement(cross, f"{{{SVG}}}circle", circle)
    lines = f"M{x - 4:g} {y - 4:g}l8 8M{x + 4:g} {y - 4:g}l-8 8"
    ElementTree.SubElement(cross, f"{{{SVG}}}path", {"d": lines})
    return cross


def _size(mark: int | str) -> float:
    return mark if isinstance(mark, int) else float(mark.rstrip(" %") or 0)


def _badge(hit: ElementTree.Element, mark: str, *, is_largest: bool) -> ElementTree.Element:
    x = float(hit.get("x", 0)) + float(hit.get("width", 0)) / 2
    y = float(hit.get("y", 0)) + float(hit.get("height", 0)) / 2
    badge = ElementTree.Element(
        f"{{{SVG}}}g", {"class": "badge largest" if is_largest else "badge"}
    )
    width = 10 + 6 * len(mark)
    box = {
        "x": f"{x - width / 2:g}",
        "y": f"{y - 8:g}",
        "width": f"{width}",
        "height": "16",
        "rx": "8",
    }
    ElementTree.SubElement(badge, f"{{{SVG}}}rect", box)
    text = ElementTree.SubElement(
        badge, f"{{{SVG}}}text", {"x": f"{x:g}", "y": f"{y + 4:g}", "text-anchor": "middle"}
    )
    text.text = mark
    return badge
