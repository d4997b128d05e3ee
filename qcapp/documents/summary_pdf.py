"""The printed batch summary: A4, tagged (PDF/UA-1), the same bytes from the same proof."""

import hashlib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import segno
import typst

from qcapp.documents.drawing_print import mark_for_print
from qcapp.documents.paper_words import prepare
from qcapp.documents.summary_texts import list_texts
from qcapp.documents.typeset import typeset
from qcapp.i18n.catalogue import load_locale
from qcapp.i18n.phrase import ENGLISH
from qcapp.reports.summary_wording import list_photos, word_summary

PICTURE_SUFFIXES = {b"\xff\xd8\xff": "jpg", b"\x89PNG": "png", b"RIFF": "webp"}


def build_summary_pdf(
    proof: Mapping[str, Any],
    *,
    drawing_svg: str,
    verify_address: str | None,
    photos: Mapping[str, bytes],
    language: str = ENGLISH,
    checklist_texts: Mapping[str, str] = {},
) -> bytes:
    """The PDF of a signed summary.

    proof: as sign_document makes it; it is printed, not checked. drawing_svg: the line drawing that
    the summary names. photos: content by SHA-256 (hex); one that is missing, does not have that
    digest or is no readable picture is named instead of shown. verify_address: where the server
    checks it; None: the paper tells only how to check the file. Text of the document is only ever
    data to the typesetter; characters its fonts lack are printed as [U+4F60]. language: of the
    paper; in another than English the paper says that it is a translation. checklist_texts: the
    checklists' own texts in that language, by the English one.
    """
    locale = load_locale(language)
    summary = word_summary(proof["summary"], checklist_texts)
    given = {
        "summary": summary,
        "texts": list_texts(summary),
        "sha256": proof["signed"]["summary_sha256"],
        "public_key": proof["signature"]["public_key"],
        "verify_address": verify_address,
    }

    def make_pictures(folder: Path) -> dict[str, Any]:
        return {
            "drawing": mark_for_print(drawing_svg, summary["parts"]),
            "qr": draw_code(verify_address) if verify_address else "",
            "photos": _write_photos(folder, summary, photos),
        }

    return typeset(
        "summary.typ",
        prepare(given, locale),
        dated=datetime.fromisoformat(summary["issued_at"]),
        pictures=make_pictures,
    )


def draw_code(address: str) -> str:
    """SVG of a QR code."""
    code: str = segno.make(address, error="m").svg_inline(border=2)
    return code


def _write_photos(
    folder: Path, summary: Mapping[str, Any], photos: Mapping[str, bytes]
) -> dict[str, str]:
    """File name by SHA-256 of the photos that can be shown."""
    written = {}
    for digest in dict.fromkeys(list_photos(summary)):
        content = photos.get(digest, b"")
        suffix = next(
            (suffix for start, suffix in PICTURE_SUFFIXES.items() if content.startswith(start)),
            None,
        )
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
