"""A paper from a template and data: A4, tagged (PDF/UA-1), the same bytes from the same input.

Data reaches the typesetter as one JSON text and is only ever shown as a value, never read as
markup.
"""

import json
import re
from collections.abc import Callable, Mapping
from datetime import datetime
from functools import partial
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal

import typst

from qcapp.documents.plain_text import (
    CODE_START,
    code_beyond_ascii,
    code_characters,
    drop_controls,
    map_texts,
)
from qcapp.errors import PaperError

TEMPLATES = files("qcapp.documents") / "templates"
STANDARD: Literal["ua-1"] = "ua-1"
MAX_ROUNDS = 5
UNSHOWABLE = re.compile(r'the text `"(.+?)"` could not be displayed')
Pictures = Mapping[str, object]
NO_PICTURES: Pictures = {}


def typeset(
    template: str,
    given: Mapping[str, object],
    *,
    dated: datetime,
    pictures: Pictures | Callable[[Path], Pictures] = NO_PICTURES,
) -> bytes:
    """The PDF of a template of this folder.

    given: texts, numbers, lists, by name. pictures: by name as well, never changed; a function gets
    the folder in which it may put files. Characters that the fonts lack are printed as [U+4F60];
    the template learns so by `has_codes`. dated: what the file says of its making. Raises
    PaperError.
    """
    with TemporaryDirectory() as name:
        folder = Path(name)
        for file in TEMPLATES.iterdir():
            (folder / file.name).write_bytes(file.read_bytes())
        cleaned = map_texts(dict(given), drop_controls)
        more = pictures(folder) if callable(pictures) else pictures
        return _typeset_coded(folder / template, cleaned, more, dated.replace(microsecond=0))


def _typeset_coded(
    template: Path,
    given: dict[str, object],
    pictures: Pictures,
    dated: datetime,
    rounds_left: int = MAX_ROUNDS,
) -> bytes:
    """Typesets; when a character has no glyph, its Unicode number takes its place and it goes
    again.
    """
    try:
        return _compile(
            template, {**given, **pictures, "has_codes": CODE_START in json.dumps(given)}, dated
        )
    except typst.TypstError as error:
        characters = UNSHOWABLE.findall(error.diagnostic)
        if not characters or not rounds_left:
            raise PaperError(
                f"the paper cannot be typeset: {error.message}",
                template.name,
                "report it with what it was made from",
            ) from error
    code = (
        code_beyond_ascii if rounds_left == 1 else partial(code_characters, characters=characters)
    )
    return _typeset_coded(template, map_texts(given, code), pictures, dated, rounds_left - 1)


def _compile(template: Path, given: dict[str, object], dated: datetime) -> bytes:
    return typst.compile(
        template,
        root=template.parent,
        format="pdf",
        ignore_system_fonts=True,
        pdf_standards=[STANDARD],
        sys_inputs={"given": json.dumps(given)},
        timestamp=dated,
    )
