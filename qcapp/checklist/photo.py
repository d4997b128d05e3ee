"""Checks whose figure may be taken from a photo with the printed frame: `photo: holes`, and which
figure of it.

A photo measures what lies flat inside the frame. A door opening in a curved wall, or a grate deep
in a stove, it cannot; so a check may say it only where the part can be laid free.
"""

from typing import Any, get_args

from qcapp.checklist.base_check import PhotoFigure
from qcapp.checklist.fields import Fields
from qcapp.checklist.source import Node, Problems
from qcapp.i18n.phrase import phrase

KINDS = ("holes",)
FIGURES = get_args(PhotoFigure)
# By stage: the parts that lie flat and free there, None for all of them.
FLAT_PARTS: dict[str, tuple[str, ...] | None] = {
    "blanks": None,
    "green-liner": ("grate",),
    "fired-liner": ("grate",),
}
# What readings of each are judged by: a photo gives the same of all holes.
JUDGED_BY = {"margin": "smallest", "web": "smallest", "width": "mean"}
UNIT = "mm"


def read_photo(
    fields: Fields, unit: str | None, by: str | None = None, *, is_count: bool = False
) -> dict[str, str | None]:
    """Keys photo and figure of a check's block; a count has no figure but the number of holes.

    by: what several readings are judged by, None where there is one.
    """
    photo = fields.one_of("photo", KINDS, required=False)
    node = fields.find("figure", required=False)
    if is_count:
        if node:
            fields.problems.add(
                node,
                phrase("a count takes the number of holes from a photo"),
                phrase("remove the line"),
            )
        return {"photo": photo}
    figure = fields.one_of("figure", FIGURES, required=False)
    if not fields.find("photo", required=False):
        if node:
            fields.problems.add(
                node,
                phrase("a figure of a photo, but no photo"),
                phrase("add photo: holes, or remove the line"),
            )
    elif node is None:
        fields.problems.add(
            fields.children["photo"],
            phrase("which figure of the photo is not said"),
            phrase("add figure: with one of %(figures)s", figures=FIGURES),
        )
    elif figure:
        _check_figure(fields, figure, unit, by)
    return {"photo": photo, "figure": figure}


def _check_figure(fields: Fields, figure: str, unit: str | None, by: str | None) -> None:
    node = fields.children["figure"]
    if unit is not None and unit != UNIT:
        fields.problems.add(
            node,
            phrase("a photo measures in mm, this check in %(unit)s", unit=unit),
            phrase("write unit: mm with limits in mm, or remove photo and figure"),
        )
    if by is not None and by != JUDGED_BY[figure]:
        fields.problems.add(
            node,
            phrase(
                "figure %(figure)s of a photo is the %(given)s, the check is judged by the %(by)s",
                figure=figure,
                given=JUDGED_BY[figure],
                by=by,
            ),
            phrase("write by: %(given)s, or remove photo and figure", given=JUDGED_BY[figure]),
        )


def find_misplaced(draft: dict[str, Any], nodes: list[Node], problems: Problems) -> None:
    """draft: a checklist as read so far; nodes: where its checks stand."""
    stage = draft["stage"]
    for check, node in zip(draft["checks"], nodes, strict=True):
        if check.get("photo") and stage and not is_flat(stage, check["part"]):
            problems.add(
                node,
                phrase(
                    "part '%(part)s' of stage '%(stage)s' cannot be laid flat in the frame",
                    part=check["part"],
                    stage=stage,
                ),
                phrase(
                    "remove photo: a curved wall or a grate deep in a stove is measured by hand"
                ),
                f"{check['kind']}.photo",
            )


def is_flat(stage: str, part: str | None) -> bool:
    """Whether that part can be laid free and flat at that stage."""
    parts = FLAT_PARTS.get(stage, ())
    return parts is None or part in parts
