"""The drawing of the stove with a mark on each part, in the page's language."""

from collections.abc import Mapping, Sequence

from qcapp.charts.drawing import mark_drawing
from qcapp.words.phrase import phrase
from qcapp.words.shaped import join
from qcapp.words.spoken import get_spoken


def draw_part_map(
    drawing: str, marks: Mapping[str, int | str], counts: Sequence[str], *, title: str
) -> str:
    """SVG text. marks: by part id, as mark_drawing takes them; counts: the same in words, for whoever cannot see it."""
    description = join(", ", counts) if counts else phrase("none")
    return mark_drawing(drawing, marks, title=title, description=description, words=get_spoken())
