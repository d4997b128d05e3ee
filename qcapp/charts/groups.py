"""A few groups as bars from zero, each with a whisker for its interval."""

from collections.abc import Sequence
from dataclasses import dataclass

from qcapp.charts.frame import (
    ENGLISH_WORDS,
    Chart,
    Picture,
    Scale,
    find_top,
    finish_chart,
    line,
    percent,
    text,
    whole_percent,
)
from qcapp.charts.label import WIDTH, Label
from qcapp.charts.legend import Key
from qcapp.charts.rate_words import COLUMNS, describe_mark, list_cells
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import SEMICOLON, join
from qcapp.i18n.phrase import phrase

ROW, BAR = 58, 20


@dataclass(frozen=True)
class GroupMark:
    """is_toned: the bar of the group that the page is about; else it is hollow, so that both can be
    told apart in grey.
    """

    label: str
    failed: int
    inspected: int
    rate: float
    low: float
    high: float
    is_toned: bool


def draw_groups(
    marks: Sequence[GroupMark], *, title: str, unit: str, name: str, locale: Locale = ENGLISH_WORDS
) -> Chart:
    """title: the finding; unit: what the axis is a share of."""
    scale = Scale(0.0, find_top([mark.high for mark in marks]), 8, WIDTH - 12)
    foot = ROW * len(marks)
    parts: list[str | Label] = []
    for place, mark in enumerate(marks):
        parts += _bar(mark, ROW * place, scale)
    parts += [line(scale.start, foot, scale.end, foot, "axis"), *_ticks(scale, foot)]
    parts.append(text(8, foot + 32, unit, kind="unit"))
    return finish_chart(
        Picture(parts, foot + 38, _list_keys(marks)),
        title=title,
        description=join(SEMICOLON, map(describe_mark, marks)) or phrase("nothing inspected"),
        name=name,
        columns=COLUMNS,
        rows=[list_cells(mark) for mark in marks],
        locale=locale,
    )


def _list_keys(marks: Sequence[GroupMark]) -> list[Key]:
    """Whose each kind of bar is."""
    kinds: dict[str, list[str]] = {}
    for mark in marks:
        kinds.setdefault(_name_kind(mark), []).append(mark.label)
    bars = [Key("box", kind, join(", ", labels)) for kind, labels in kinds.items()]
    return [*bars, Key("whisker", "ends", phrase("95 %% interval"))] if bars else []


def _name_kind(mark: GroupMark) -> str:
    return "bar" if mark.is_toned else "bar inside"


def _ticks(scale: Scale, foot: float) -> list[str | Label]:
    parts: list[str | Label] = []
    for share, anchor in ((0.0, "start"), (scale.high / 2, "middle"), (scale.high, "end")):
        x = scale.place(share)
        parts.append(line(x, foot, x, foot + 4, "axis"))
        parts.append(text(x, foot + 17, whole_percent(share), anchor=anchor))
    return parts


def _bar(mark: GroupMark, top: float, scale: Scale) -> list[str | Label]:
    y, end = top + 24, scale.place(mark.rate)
    size = f'width="{max(0.5, end - 8):g}" height="{BAR}"'
    counts = phrase(
        "%(failed)s of %(of)s, %(rate)s",
        failed=mark.failed,
        of=mark.inspected,
        rate=percent(mark.rate),
    )
    return [
        text(8, top + 17, mark.label),
        text(WIDTH - 12, top + 17, counts, anchor="end"),
        f'<rect class="{_name_kind(mark)}" x="8" y="{y:g}" {size}/>',
        *_whisker(scale.place(mark.low), scale.place(mark.high), y + BAR / 2),
    ]


def _whisker(low: float, high: float, y: float) -> list[str]:
    """A light line under the dark one, so that it is seen on a dark bar too."""
    path = f"M{low:g} {y:g}L{high:g} {y:g}M{low:g} {y - 5:g}v10M{high:g} {y - 5:g}v10"
    return [f'<path class="halo" d="{path}"/>', f'<path class="ends" d="{path}"/>']
