"""Reads which element ids a drawing carries, and refuses what a drawing or a check's picture has no
use for.

The phone puts both into its page, so nothing in them may run or load from elsewhere.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

from qcapp.errors import BadInput
from qcapp.i18n.phrase import Phrase, phrase

# A link, and what moves: an animation may change where a link leads.
FORBIDDEN = {
    "script",
    "foreignObject",
    "style",
    "image",
    "iframe",
    "a",
    "animate",
    "animateMotion",
    "animateTransform",
    "set",
}
# All pictures of a checklist go to every phone, over a poor line; ours have 300 to 1,400 bytes.
MAX_PICTURE_BYTES = 4096


@dataclass(frozen=True)
class Drawings:
    """Where a checklist's drawing is looked for. kept: SVG by name of those that were let in
    before and lie in no folder.
    """

    folder: Path
    kept: Mapping[str, str] = field(default_factory=dict)

    def read_ids(self, name: str) -> set[str]:
        """All ids of the drawing of this name. Raises BadInput as read_drawing_ids."""
        if name in self.kept:
            return list_ids(ElementTree.fromstring(self.kept[name]))  # noqa: S314, let in before
        return read_drawing_ids(self.folder / name)


def list_ids(root: ElementTree.Element) -> set[str]:
    return {element.attrib["id"] for element in root.iter() if "id" in element.attrib}


def read_drawing_ids(path: Path) -> set[str]:
    """All ids in the SVG; raises BadInput when it is missing, broken or holds anything active."""
    root = _read_still(
        path, phrase("drawing"), phrase("put it in the same folder as the checklist")
    )
    return list_ids(root)


def check_picture(path: Path) -> None:
    """Raises BadInput when a check's picture is missing, broken, too large or holds anything
    active.
    """
    _read_still(
        path, phrase("picture"), phrase("put it into the folder “pictures” beside the checklist")
    )
    if path.stat().st_size > MAX_PICTURE_BYTES:
        what = phrase(
            "picture %(name)s is larger than %(most)s bytes",
            name=path.name,
            most=MAX_PICTURE_BYTES,
        )
        raise BadInput(what, path.name, phrase("draw it with fewer strokes"))


def _read_still(path: Path, what: Phrase, todo: Phrase) -> ElementTree.Element:
    """The root of an SVG in which nothing runs or leads out."""
    try:
        # No entity is resolved from outside, and the yard itself puts the file here.
        root = ElementTree.parse(path).getroot()  # noqa: S314
    except OSError as error:
        raise BadInput(
            phrase("%(what)s %(name)s cannot be read", what=what, name=path.name), path.name, todo
        ) from error
    except (ElementTree.ParseError, ValueError) as error:
        raise BadInput(
            phrase(
                "%(what)s %(name)s is not well-formed SVG: %(error)s",
                what=what,
                name=path.name,
                error=error,
            ),
            path.name,
            phrase("export it again as plain SVG"),
        ) from error
    if _local(root.tag) != "svg":
        raise BadInput(
            phrase("%(what)s %(name)s is not an SVG file", what=what, name=path.name),
            path.name,
            phrase("export it as plain SVG"),
        )
    for element in root.iter():
        _refuse_active(element, phrase("%(what)s %(name)s", what=what, name=path.name))
    return root


def _refuse_active(element: ElementTree.Element, name: Phrase) -> None:
    if _local(element.tag) in FORBIDDEN:
        raise BadInput(
            phrase("%(name)s contains <%(tag)s>", name=name, tag=_local(element.tag)),
            name,
            phrase("use only shapes, groups and text"),
        )
    for attribute, value in element.attrib.items():
        plain = _local(attribute).lower()
        if (
            plain.startswith("on")
            or (plain == "href" and not value.startswith("#"))
            or "url(" in value.replace("url(#", "")
        ):
            raise BadInput(
                phrase("%(name)s contains %(plain)s", name=name, plain=plain),
                name,
                phrase("remove it; nothing may run or load from elsewhere"),
            )


def _local(tag: object) -> str:
    return str(tag).rpartition("}")[2]
