"""The drawing of a checklist and its checks' pictures: read beside the checklist's file, or as they
came with a checklist from a phone.

What they may hold is said in svg.py.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from qcapp.checklist.pictures import PICTURES
from qcapp.checklist.svg import read_svg_ids
from qcapp.errors import BadInput
from qcapp.i18n.phrase import Phrase, phrase

# All pictures of a checklist go to every phone, over a poor line; ours have 300 to 1,400 bytes.
MAX_PICTURE_BYTES = 4096
MAX_DRAWING_BYTES = 131_072


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
            return check_shown(name, self.kept[name])
        return read_drawing_ids(self.folder / name)


def read_drawing_ids(path: Path) -> set[str]:
    """All ids in the SVG; raises BadInput when it is missing, broken or holds anything that is not
    on the list.
    """
    return check_shown(path.name, read_svg_file(path))


def check_picture(path: Path) -> None:
    """Raises BadInput when a check's picture is missing, broken, too large or holds anything that
    is not on the list.
    """
    check_shown(f"{PICTURES}/{path.name}", read_svg_file(path))


def check_shown(name: str, source: str) -> set[str]:
    """The ids in an SVG text. name: as list_shown gives it. Raises BadInput."""
    most = MAX_PICTURE_BYTES if _is_picture(name) else MAX_DRAWING_BYTES
    called = _call(name)
    ids = read_svg_ids(source, called)
    if len(source.encode()) > most:
        raise BadInput(
            phrase("%(name)s is larger than %(most)s bytes", name=called, most=most),
            called,
            phrase("draw it with fewer strokes"),
        )
    return ids


def read_svg_file(path: Path) -> str:
    """The text of the file. Raises BadInput where there is none."""
    name = f"{path.parent.name}/{path.name}"
    called = _call(name if _is_picture(name) else path.name)
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        todo = (
            phrase("put it into the folder “pictures” beside the checklist")
            if _is_picture(name)
            else phrase("put it in the same folder as the checklist")
        )
        raise BadInput(phrase("%(name)s cannot be read", name=called), path.name, todo) from error
    except ValueError as error:
        raise BadInput(
            phrase("%(name)s is not a UTF-8 text", name=called),
            path.name,
            phrase("export it again as plain SVG"),
        ) from error


def _is_picture(name: str) -> bool:
    return name.startswith(f"{PICTURES}/")


def _call(name: str) -> Phrase:
    what = phrase("picture") if _is_picture(name) else phrase("drawing")
    return phrase("%(what)s %(name)s", what=what, name=name.removeprefix(f"{PICTURES}/"))
