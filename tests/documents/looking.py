"""Looks at a paper as its reader does: its text, its pages as pictures, and where its boxes are."""

import io
import json
import re
from dataclasses import dataclass

import typst
from PIL import Image
from pypdf import PdfReader

MM_PER_INCH = 25.4
PPI = 110


@dataclass
class CheckObservation:
    """pictures: one a page, PPI dots an inch. boxes: of the paper's own notes,
    in mm from the page's corner.
    """

    pictures: list[Image.Image]
    boxes: list[dict]


def look_at(monkeypatch, build) -> tuple[bytes, CheckObservation]:
    """What `build` gives, and the same input typeset as pictures."""
    found = []
    compile_pdf = typst.compile

    def compile_and_look(template, **given):
        pdf = compile_pdf(template, **given)
        same = {key: given[key] for key in ("root", "ignore_system_fonts", "sys_inputs")}
        pages = compile_pdf(template, format="png", ppi=PPI, **same)
        boxes = json.loads(typst.query(template, "<write-box>", field="value", **same))
        found.append(
            CheckObservation(
                [
                    Image.open(io.BytesIO(page)).convert("L")
                    for page in (pages if isinstance(pages, list) else [pages])
                ],
                boxes,
            )
        )
        return pdf

    monkeypatch.setattr(typst, "compile", compile_and_look)
    pdf = build()
    return pdf, found[-1]


def has_white_edge(picture: Image.Image, millimetres: float) -> bool:
    """No ink nearer to the paper's edge than a printer reaches."""
    edge = round(millimetres / MM_PER_INCH * PPI)
    white = picture.point(lambda tone: 255 if tone < 250 else 0)
    left, top, right, bottom = white.getbbox()
    return (
        left >= edge
        and top >= edge
        and right <= picture.width - edge
        and bottom <= picture.height - edge
    )


def read_pages(pdf: bytes) -> list[str]:
    """Text of each page without spaces: where lines break is the typesetter's."""
    return [squeeze(page.extract_text()) for page in PdfReader(io.BytesIO(pdf)).pages]


def squeeze(text: str) -> str:
    return re.sub(r"[\s\u200b]", "", text)
