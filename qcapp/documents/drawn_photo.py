"""A picture in place of a photo, for an invented yard: drawn, and saying so on itself."""

from collections.abc import Sequence
from functools import cache
from io import BytesIO
from xml.etree import ElementTree

import typst
from PIL import Image, ImageDraw, ImageFont

SVG = "http://www.w3.org/2000/svg"
WIDTH, DRAWN_HEIGHT, LABEL_HEIGHT = 480, 305, 95
PAPER, INK, MARK = "#d8cfbc", "#201a15", "#a32a12"
SAYS_DRAWN = "Drawn for the demo. Not a photo."
PAGE = """#set page(width: {width}pt, height: {height}pt, margin: 8pt, fill: rgb("{paper}"))
#align(center, image(bytes(sys.inputs.svg), format: "svg", height: 100%))"""


def draw_photo(drawing: str, part: str, lines: Sequence[str]) -> bytes:
    """JPEG bytes. drawing: a checklist's SVG text; part: ringed on it; lines: two, under it."""
    picture = Image.new("RGB", (WIDTH, DRAWN_HEIGHT + LABEL_HEIGHT), PAPER)
    picture.paste(_draw_base(drawing), (0, 0))
    canvas = ImageDraw.Draw(picture)
    box = find_part(drawing, part)
    if box is not None:
        canvas.ellipse(box, outline=MARK, width=4)
    canvas.rectangle((0, DRAWN_HEIGHT, WIDTH, DRAWN_HEIGHT + LABEL_HEIGHT), fill=INK)
    for place, (text, size) in enumerate(zip((*lines, SAYS_DRAWN), (22, 18, 18), strict=True)):
        font = ImageFont.load_default(size)
        canvas.text((12, DRAWN_HEIGHT + 8 + 29 * place), text, fill="#fffaf0", font=font)
    kept = BytesIO()
    picture.save(kept, "JPEG", quality=70)
    return kept.getvalue()


@cache
def _draw_base(drawing: str) -> Image.Image:
    page = PAGE.format(width=WIDTH / 2, height=DRAWN_HEIGHT / 2, paper=PAPER)
    inked = drawing.replace("currentColor", INK)
    made = typst.compile(
        page.encode(), format="png", ppi=144, ignore_system_fonts=True, sys_inputs={"svg": inked}
    )
    return Image.open(BytesIO(made)).convert("RGB").resize((WIDTH, DRAWN_HEIGHT))


def find_part(drawing: str, part: str) -> tuple[float, float, float, float] | None:
    """Left, upper, right, lower of the ring about the part's first hit area, in pixels; None for a
    part without one.
    """
    # A drawing of a checklist: read_drawing_ids let it in.
    root = ElementTree.fromstring(drawing)  # noqa: S314
    hit = root.find(f".//*[@id='{part}']//{{{SVG}}}rect[@class='hit']")
    if hit is None:
        return None
    left, upper, width, height = (float(one) for one in root.get("viewBox", "").split())
    scale = (DRAWN_HEIGHT - 32) / height
    x, y, wide, high = (float(hit.get(name, 0)) for name in ("x", "y", "width", "height"))
    middle_x = WIDTH / 2 + (x + wide / 2 - left - width / 2) * scale
    middle_y = DRAWN_HEIGHT / 2 + (y + high / 2 - upper - height / 2) * scale
    reach_x, reach_y = (max(14.0, size * scale / 2 + 6) for size in (wide, high))
    return middle_x - reach_x, middle_y - reach_y, middle_x + reach_x, middle_y + reach_y
