"""The printed batch summary: A4, tagged (PDF/UA-1), the same bytes from the same proof."""

import hashlib
import json
import re
from collections.abc import Mapping
from datetime import datetime
from functools import partial
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import segno
import typst

from qcapp.documents.drawing_print import mark_for_print
from qcapp.documents.plain_text import CODE_START, code_beyond_ascii, code_signs, drop_controls, map_texts
from qcapp.errors import PaperTrouble

TEMPLATES = files("qcapp.documents") / "templates"
STANDARD = "ua-1"
MOST_ROUNDS = 5
PICTURE_SUFFIXES = {b"\xff\xd8\xff": "jpg", b"\x89PNG": "png", b"RIFF": "webp"}
UNSHOWABLE = re.compile(r'the text `"(.+?)"` could not be displayed')


def build_summary_pdf(proof: Mapping[str, Any], *, drawing_svg: str, verify_address: str, photos: Mapping[str, bytes]) -> bytes:
    """The PDF of a signed summary.

    proof: as sign_document makes it; it is printed, not checked. drawing_svg: the line drawing that
    the summary names. photos: content by SHA-256 (hex); one that is missing, does not have that
    digest or is no readable picture is named instead of shown. Text of the document is only ever
    data to the typesetter; signs its fonts lack are printed as [U+4F60].
    """
    with TemporaryDirectory() as name:
        folder = Path(name)
        for template in TEMPLATES.iterdir():
            (folder / template.name).write_bytes(template.read_bytes())
        summary = map_texts(proof["summary"], drop_controls)
        given = {
            "summary": summary,
            "sha256": proof["signed"]["summary_sha256"],
            "public_key": proof["signature"]["public_key"],
            "verify_address": drop_controls(verify_address),
            "drawing_alt": _describe_parts(summary["parts"]),
        }
        pictures = {
            "drawing": mark_for_print(drawing_svg, summary["parts"]),
            "qr": segno.make(verify_address, error="m").svg_inline(border=2),
            "photos": _write_photos(folder, summary["concessions"], photos),
        }
        return _typeset_shown(folder, given, pictures, datetime.fromisoformat(summary["issued_at"]).replace(microsecond=0))


def _typeset_shown(folder: Path, given: dict, pictures: dict, issued_at: datetime, rounds_left: int = MOST_ROUNDS) -> bytes:
    """Typesets; when a sign has no glyph, its Unicode number takes its place and it goes again."""
    try:
        return _typeset(folder, {**given, **pictures, "has_codes": CODE_START in json.dumps(given)}, issued_at)
    except typst.TypstError as trouble:
        signs = UNSHOWABLE.findall(trouble.diagnostic)
        if not signs or not rounds_left:
            raise PaperTrouble(f"the summary cannot be printed: {trouble.message}", "summary.typ", "report it with the signed file") from trouble
    code = code_beyond_ascii if rounds_left == 1 else partial(code_signs, signs=signs)
    return _typeset_shown(folder, map_texts(given, code), pictures, issued_at, rounds_left - 1)


def _typeset(folder: Path, given: dict, issued_at: datetime) -> bytes:
    return typst.compile(
        folder / "summary.typ", root=folder, format="pdf", ignore_system_fonts=True, pdf_standards=[STANDARD],
        sys_inputs={"given": json.dumps(given)}, timestamp=issued_at,
    )


def _write_photos(folder: Path, concessions: list[dict], photos: Mapping[str, bytes]) -> dict[str, str]:
    """File name by SHA-256 of the photos that can be shown."""
    written = {}
    for digest in {digest: None for concession in concessions for digest in concession["photos"]}:
        content = photos.get(digest, b"")
        suffix = next((suffix for start, suffix in PICTURE_SUFFIXES.items() if content.startswith(start)), None)
        if suffix is None or hashlib.sha256(content).hexdigest() != digest:
            continue
        file = folder / f"{digest}.{suffix}"
        file.write_bytes(content)
        if _is_readable(file):
            written[digest] = file.name
    return written


def _is_readable(picture: Path) -> bool:
    # A picture cut off on its way must not cost the whole paper: it is tried alone first.
    source = f'#set page(width: auto, height: auto)\n#image("{picture.name}")'
    probe = picture.with_suffix(".typ")
    probe.write_text(source, encoding="utf-8")
    try:
        typst.compile(probe, root=picture.parent, format="pdf", ignore_system_fonts=True)
    except typst.TypstError:
        return False
    return True


def _describe_parts(parts: list[dict]) -> str:
    failed = ", ".join(f"{part['title']} {part['failed']}" for part in parts if part["failed"])
    return f"Drawing of the stove with the number of failed checks by part: {failed or 'none'}"
