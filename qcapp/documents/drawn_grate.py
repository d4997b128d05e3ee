"""A grate in the printed frame in place of a photo, for an invented yard: drawn, and saying so."""

from dataclasses import dataclass
from io import BytesIO
from math import hypot, sqrt

from PIL import Image, ImageDraw, ImageFont

from qcapp.documents.drawn_photo import SAYS_DRAWN
from qcapp.documents.photo_frame import MARK_SIDE, PAPERS, list_marks

ROWS = (3, 4, 5, 4, 3)
PX_PER_MM = 1.6
# Drawn so much larger, then made small: edges come out smooth.
FINER = 2
SHEET, CLOTH, CLAY, INK, LINE, WORST = (
    "#ece8df",
    "#23201d",
    "#b5714a",
    "#141210",
    "#ffffff",
    "#ffe14d",
)
LABEL_MM = 9.0


@dataclass(frozen=True)
class DrawnGrate:
    """Lengths in mm. width: of each hole; web: between two holes; margin: from the outermost holes
    to the edge.
    """

    width: float
    web: float
    margin: float

    def list_holes(self) -> list[tuple[float, float]]:
        """Middles of the holes, in rows, from the grate's middle."""
        pitch = self.width + self.web
        return [
            (pitch * (place - (count - 1) / 2), pitch * sqrt(3) / 2 * (row - 2))
            for row, count in enumerate(ROWS)
            for place in range(count)
        ]

    @property
    def radius(self) -> float:
        return max(hypot(x, y) for x, y in self.list_holes()) + self.width / 2 + self.margin


def draw_grate(grate: DrawnGrate) -> tuple[bytes, bytes]:
    """JPEG of the picture, and of the same with numbered holes and the smallest margin."""
    paper = _Paper(*PAPERS["a4"])
    for x, y in list_marks("a4"):
        half = MARK_SIDE / 2
        paper.canvas.rectangle(paper.box(x - half, y - half, x + half, y + half), fill=INK)
    paper.disc((0, 0), grate.radius + 5, fill=CLOTH)
    paper.disc((0, 0), grate.radius, fill=CLAY)
    for hole in grate.list_holes():
        paper.disc(hole, grate.width / 2, fill=CLOTH)
    paper.write((0, paper.height / 2 - LABEL_MM / 2), SAYS_DRAWN, 6.5, INK)
    plain = paper.save()
    for number, hole in enumerate(grate.list_holes(), start=1):
        paper.disc(hole, grate.width / 2, outline=LINE, width=4)
        paper.write(hole, str(number), 7.5, LINE)
    x, y = max(grate.list_holes(), key=lambda one: hypot(*one))
    shares = ((hypot(x, y) + grate.width / 2) / hypot(x, y), grate.radius / hypot(x, y))
    ends = [paper.point(x * share, y * share) for share in shares]
    paper.canvas.line(ends, fill=WORST, width=10)
    return plain, paper.save()


class _Paper:
    """The sheet from above; lengths in mm from its middle, to the right and down."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height, self.scale = width, height, PX_PER_MM * FINER
        size = (round(width * self.scale), round(height * self.scale))
        self.picture = Image.new("RGB", size, SHEET)
        self.canvas = ImageDraw.Draw(self.picture)

    def point(self, x: float, y: float) -> tuple[float, float]:
        return (x + self.width / 2) * self.scale, (y + self.height / 2) * self.scale

    def box(self, left: float, top: float, right: float, bottom: float) -> list[float]:
        return [*self.point(left, top), *self.point(right, bottom)]

    def disc(
        self,
        middle: tuple[float, float],
        radius: float,
        *,
        fill: str | None = None,
        outline: str | None = None,
        width: int = 1,
    ) -> None:
        x, y = middle
        box = self.box(x - radius, y - radius, x + radius, y + radius)
        self.canvas.ellipse(box, fill=fill, outline=outline, width=width)

    def write(self, middle: tuple[float, float], text: str, size_mm: float, fill: str) -> None:
        font = ImageFont.load_default(size_mm * self.scale)
        self.canvas.text(self.point(*middle), text, fill=fill, font=font, anchor="mm")

    def save(self) -> bytes:
        small = (round(self.width * PX_PER_MM), round(self.height * PX_PER_MM))
        kept = BytesIO()
        self.picture.resize(small).save(kept, "JPEG", quality=65)
        return kept.getvalue()
