"""Reads which element ids a drawing carries, and refuses what a drawing has no use for.

The phone puts the drawing into its page, so nothing in it may run or load from elsewhere.
"""

from pathlib import Path
from xml.etree import ElementTree

from qcapp.errors import BadInput
from qcapp.words.phrase import phrase

FORBIDDEN = {"script", "foreignObject", "style", "image", "iframe"}


def read_drawing_ids(path: Path) -> set[str]:
    """All ids in the SVG; raises BadInput when it is missing, broken or holds anything active."""
    try:
        root = ElementTree.parse(path).getroot()
    except OSError as error:
        raise BadInput(phrase("drawing %(name)s cannot be read", name=path.name), path.name, phrase("put it beside the checklist")) from error
    except (ElementTree.ParseError, ValueError) as error:
        raise BadInput(
            phrase("drawing %(name)s is not well-formed SVG: %(error)s", name=path.name, error=error),
            path.name,
            phrase("export it again as plain SVG"),
        ) from error
    if _local(root.tag) != "svg":
        raise BadInput(phrase("drawing %(name)s is not an SVG", name=path.name), path.name, phrase("export it as plain SVG"))
    for element in root.iter():
        _refuse_active(element, path.name)
    return {element.attrib["id"] for element in root.iter() if "id" in element.attrib}


def _refuse_active(element: ElementTree.Element, name: str) -> None:
    if _local(element.tag) in FORBIDDEN:
        raise BadInput(
            phrase("drawing %(name)s holds <%(tag)s>", name=name, tag=_local(element.tag)), name, phrase("keep to shapes, groups and text")
        )
    for attribute, value in element.attrib.items():
        plain = _local(attribute).lower()
        if plain.startswith("on") or (plain == "href" and not value.startswith("#")) or "url(" in value.replace("url(#", ""):
            raise BadInput(
                phrase("drawing %(name)s holds %(plain)s", name=name, plain=plain), name, phrase("remove it; nothing may run or load from elsewhere")
            )


def _local(tag: object) -> str:
    return str(tag).rpartition("}")[2]
