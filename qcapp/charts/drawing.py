"""The drawing of the stove as a map of faults: each part marked with its count."""

from collections.abc import Mapping
from xml.etree import ElementTree

SVG = "http://www.w3.org/2000/svg"
ElementTree.register_namespace("", SVG)


def mark_drawing(drawing: str, counts: Mapping[str, int], *, title: str, description: str) -> str:
    """The SVG text with a numbered badge on every part that has a count above 0.

    The badge sits in the middle of the part's hit area. The number is written out, so the
    map is read without colour; title and description serve those who cannot see it.
    """
    root = ElementTree.fromstring(drawing)
    root.set("role", "img")
    root.set("aria-label", f"{title}. {description}")
    largest = max(counts.values(), default=0)
    badges = []
    for part, count in counts.items():
        group = root.find(f".//*[@id='{part}']")
        if group is None or count <= 0:
            continue
        group.set("class", f"{group.get('class', 'part')} failed")
        hit = group.find(f".//{{{SVG}}}rect[@class='hit']")
        if hit is not None:
            badges.append(_badge(hit, count, is_largest=count == largest))
    root.extend(badges)
    return ElementTree.tostring(root, encoding="unicode")


def _badge(hit: ElementTree.Element, count: int, *, is_largest: bool) -> ElementTree.Element:
    x = float(hit.get("x", 0)) + float(hit.get("width", 0)) / 2
    y = float(hit.get("y", 0)) + float(hit.get("height", 0)) / 2
    badge = ElementTree.Element(f"{{{SVG}}}g", {"class": "badge largest" if is_largest else "badge"})
    width = 14 + 8 * len(str(count))
    box = {"x": f"{x - width / 2:g}", "y": f"{y - 10:g}", "width": f"{width}", "height": "20", "rx": "10"}
    ElementTree.SubElement(badge, f"{{{SVG}}}rect", box)
    text = ElementTree.SubElement(badge, f"{{{SVG}}}text", {"x": f"{x:g}", "y": f"{y + 5:g}", "text-anchor": "middle"})
    text.text = str(count)
    return badge
