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
from typing import Any

from qcapp.documents.plain_text import (
    CODE_START,
    code_beyond_ascii,
    code_signs,
    drop_controls,
    map_texts,
)
from qcapp.errors import PaperError

TEMPLATES = files("qcapp.documents") / "templates"
STANDARD = "ua-1"
MAX_ROUNDS = 5
UNSHOWABLE = re.compile(r'the text `"(.+?)"` could not be displayed')
Pictures = Mapping[str, Any]


def typeset(
    template: str,
    given: Mapping[str, Any],
    *,
    dated: datetime,
    pictures: Pictures | Callable[[Path], Pictures] = {},
) -> bytes:
    """The PDF of a template of this folder.

    given: texts, numbers, lists, by name. pictures: by name as well, never changed; a function gets
    the folder in which it may put files. Signs that the fonts lack are printed as [U+4F60]; the
    template learns so by `has_codes`. dated: what the file says of its making. Raises PaperTrouble.
    """
    with TemporaryDirectory() as name:
        folder = Path(name)
        for file in TEMPLATES.iterdir():
            (folder / file.name).write_bytes(file.read_bytes())
        shown = map_texts(dict(given), drop_controls)
        more = pictures(folder) if callable(pictures) else pictures
        return _typeset_shown(folder / template, shown, more, dated.replace(microsecond=0))


def _typeset_shown(
    template: Path, given: dict, pictures: Pictures, dated: datetime, rounds_left: int = MAX_ROUNDS
) -> bytes:
    """Typesets; when a sign has no glyph, its Unicode number takes its place and it goes again."""
    # Here, because few papers are asked for and a waiting server should be small.
    import typst

    try:
        return _compile(
            template, {**given, **pictures, "has_codes": CODE_START in json.dumps(given)}, dated
        )
    except typst.TypstError as error:
        signs = UNSHOWABLE.findall(error.diagnostic)
        if not signs or not rounds_left:
            raise PaperError(
                f"the paper cannot be typeset: {error.message}",
                template.name,
                "report it with what it was made from",
            ) from error
    code = code_beyond_ascii if rounds_left == 1 else partial(code_signs, signs=signs)
    return _typeset_shown(template, map_texts(given, code), pictures, dated, rounds_left - 1)


def _compile(template: Path, given: dict, dated: datetime) -> bytes:
    import typst

    return typst.compile(
        template,
        root=template.parent,
        format="pdf",
        ignore_system_fonts=True,
        pdf_standards=[STANDARD],
        sys_inputs={"given": json.dumps(given)},
        timestamp=dated,
    )
