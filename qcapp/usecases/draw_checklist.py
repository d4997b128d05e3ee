"""The drawing of a draft: uploaded, and its parts placed on it."""

import hashlib
import tempfile
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path

from qcapp.checklist.draft_fields import Source
from qcapp.checklist.drawing import Drawings, read_drawing_ids
from qcapp.checklist.part_marks import MAX_DRAWING_BYTES, Mark, place_part, prepare_drawing
from qcapp.checklist.pictures import PICTURES
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.store.engine import Store
from qcapp.store.registry import yard_drawings
from qcapp.store.timestamps import format_timestamp
from qcapp.usecases.edit_checklist import OpenDraft, change_draft

NAME_DIGITS = 12


def upload_drawing(
    store: Store, draft: OpenDraft, content: bytes, *, by: str, now: datetime
) -> None:
    """Makes this SVG the draft's drawing. Raises BadInput for what the phone must not show."""
    if not content or len(content) > MAX_DRAWING_BYTES:
        raise BadInput(
            phrase("no file was chosen, or it is empty or too large"),
            phrase("drawing"),
            phrase("choose an SVG file of at most %(most)s bytes", most=MAX_DRAWING_BYTES),
        )
    svg = prepare_drawing(_read_allowed_svg(content))
    _use(store, draft, svg, by=by, now=now)


def _read_allowed_svg(content: bytes) -> str:
    """The text of an SVG in which nothing runs or leads out. Raises BadInput."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drawing.svg"
        path.write_bytes(content)
        read_drawing_ids(path)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput(
            phrase("the file is not text in UTF-8"),
            phrase("drawing"),
            phrase("export it again as plain SVG"),
        ) from error


def put_part(
    store: Store, draft: OpenDraft, svg: str, mark: Mark, *, by: str, now: datetime
) -> None:
    """Places a part of the draft on its drawing. svg: the drawing as it is. Raises BadInput."""
    if mark.part not in {part["id"] for part in draft.source["parts"]}:
        raise BadInput(
            phrase("this part is not in the draft"), mark.part, phrase("choose one of its parts")
        )
    _use(store, draft, place_part(svg, mark), by=by, now=now)


def _use(store: Store, draft: OpenDraft, svg: str, *, by: str, now: datetime) -> None:
    name = name_drawing(draft.editor.in_use.id, svg)
    with store.writing() as connection:
        yard_drawings.save_drawing(connection, name=name, svg=svg, now=format_timestamp(now))

    def use(source: Source, _codes: object) -> Source:
        return {**source, "drawing": name}

    change_draft(store, draft, use, by=by, now=now)


def name_drawing(checklist_id: str, svg: str) -> str:
    """What is in it is in its name: a changed drawing is another one."""
    digest = hashlib.sha256(svg.encode()).hexdigest()[:NAME_DIGITS]
    return f"{checklist_id}-{digest}.svg"


def find_drawn(draft: OpenDraft, drawings: Mapping[str, str]) -> set[str]:
    """Ids in the draft's drawing; none where there is no such drawing."""
    svg = drawings.get(draft.source["drawing"], "")
    return Drawings(draft.editor.folder, {"": svg}).read_ids("") if svg else set()


class DraftDrawings(Mapping[str, str]):
    """SVG text by name of what a draft may show: kept ones, else files, of which one is read only
    when it is asked for.
    """

    def __init__(self, folder: Path, kept: Mapping[str, str]) -> None:
        self._folder, self._kept = folder, kept
        paths = [*folder.glob("*.svg"), *folder.glob(f"{PICTURES}/*.svg")]
        self._files = {path.relative_to(folder).as_posix() for path in paths}

    def __getitem__(self, name: str) -> str:
        if name in self._kept:
            return self._kept[name]
        if name not in self._files:
            raise KeyError(name)
        return (self._folder / name).read_text(encoding="utf-8")

    def __iter__(self) -> Iterator[str]:
        return iter(sorted(self._files | self._kept.keys()))

    def __len__(self) -> int:
        return len(self._files | self._kept.keys())
