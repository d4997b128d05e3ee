"""Reads which element ids a drawing carries, and refuses what a drawing has no use for.

The phone puts the drawing into its page, so nothing in it may run or load from elsewhere.
"""

from pathlib import Path
from xml.etree import ElementTree

from qcapp.errors import BadInput

FORBIDDEN = {"script", "foreignObject", "style", "image", "iframe"}


def read_drawing_ids(path: Path) -> set[str]:
    """All ids in the SVG; raises BadInput when it is missing, broken or holds anything active."""
    try:
        root = ElementTree.parse(path).getroot()
    except OSError as error:
        raise BadInput(f"drawing {path.name} cannot be read", path.name, "put it beside the checklist") from error
    except (ElementTree.ParseError, ValueError) as error:
        raise BadInput(f"drawing {path.name} is not well-formed SVG: {error}", path.name, "export it again as plain SVG") from error
    if _local(root.tag) != "svg":
        raise BadInput(f"drawing {path.name} is not an SVG", path.name, "export it as plain SVG")
    for element in root.iter():
        _refuse_active(element, path.name)
    return {element.attrib["id"] for element in root.iter() if "id" in element.attrib}


def _refuse_active(element: ElementTree.Element, name: str) -> None:
    if _local(element.tag) in FORBIDDEN:
        raise BadInput(f"drawing {name} holds <{_local(element.tag)}>", name, "keep to shapes, groups and text")
    for attribute, value in element.attrib.items():
        plain = _local(attribute).lower()
        if plain.startswith("on") or (plain == "href" and not value.startswith("#")) or "url(" in value.replace("url(#", ""):
            raise BadInput(f"drawing {name} holds {plain}", name, "remove it; nothing may run or load from elsewhere")


def _local(tag: object) -> str:
    return str(tag).rpartition("}")[2]
