"""The drawing of the stove with a mark on each part, in the page's language."""

from collections.abc import Mapping, Sequence

from qcapp.charts.drawing import mark_drawing
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import join
from qcapp.i18n.phrase import phrase


def draw_part_map(
    drawing: str, marks: Mapping[str, int | str], counts: Sequence[str], *, title: str
) -> str:
    """SVG text. marks: by part id, as mark_drawing takes them; counts: the same in words, for
    whoever cannot see it.
    """
    description = join(", ", counts) if counts else phrase("none")
    return mark_drawing(
        drawing, marks, title=title, description=description, locale=get_active_locale()
    )
