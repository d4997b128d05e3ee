"""What must hold across a whole checklist: everything is used, each part is drawn, each picture is
there, no calculation needs itself, nothing is asked before it is safe.
"""

from pathlib import Path
from typing import Any

from qcapp.checklist.drawing import Drawings, check_picture
from qcapp.checklist.fields import Fields, suggest
from qcapp.checklist.photo import find_misplaced
from qcapp.checklist.pictures import PICTURES
from qcapp.checklist.source import Node, Problems
from qcapp.checklist.surroundings import Surroundings
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase


def find_inconsistencies(
    draft: dict[str, Any],
    fields: Fields,
    nodes: list[Node],
    around: Surroundings,
    drawings: Drawings,
) -> None:
    """draft: a checklist as read so far; fields: its keys; nodes: where its checks stand."""
    checks, problems = draft["checks"], fields.problems
    _find_unused(checks, around, problems)
    _find_undrawn(fields, draft["drawing"], drawings, around, problems)
    _find_unpictured(checks, nodes, drawings.folder / PICTURES, problems)
    _find_cycles(checks, nodes, problems)
    _find_gauged_inputs(checks, nodes, problems)
    _find_unsafe_order(draft, nodes, problems)
    find_misplaced(draft, nodes, problems)


def _find_unused(checks: list[dict[str, Any]], around: Surroundings, problems: Problems) -> None:
    groups = (("step", around.steps), ("part", around.parts), ("tool", around.tools))
    for word, known in groups:
        used = {check[word] for check in checks}
        for name, node in known.items():
            if name not in used:
                problems.add(
                    node,
                    phrase("no check uses %(word)s '%(name)s'", word=word, name=name),
                    phrase("give it a check or remove it"),
                )


def _find_undrawn(
    fields: Fields,
    drawing: str | None,
    drawings: Drawings,
    around: Surroundings,
    problems: Problems,
) -> None:
    if drawing is None:
        return
    place = fields.children["drawing"]
    if Path(drawing).name != drawing or not drawing.endswith(".svg"):
        problems.add(
            place,
            phrase("not the name of an SVG file"),
            phrase("name one in the same folder, such as round-stove.svg"),
        )
        return
    try:
        drawn = drawings.read_ids(drawing)
    except BadInput as error:
        problems.add(place, error.what, error.todo)
        return
    for name, node in around.parts.items():
        if name not in drawn:
            problems.add(
                node,
                phrase("part '%(name)s' is not in %(drawing)s", name=name, drawing=drawing),
                suggest(name, drawn),
            )


def _find_unpictured(
    checks: list[dict[str, Any]], nodes: list[Node], folder: Path, problems: Problems
) -> None:
    """Each check's picture, with those of its faults and options."""
    for check, node in zip(checks, nodes, strict=True):
        fields = Fields(node, problems)
        faults = fields.items("faults", required=False)
        options = _find_option_nodes(fields) if "options" in check else []
        for group, places in (
            ([check], [node]),
            (check["faults"], faults),
            (check.get("options", []), options),
        ):
            named = [
                (one["picture"], place.value["picture"])
                for one, place in zip(group, places, strict=True)
                if one["picture"] and isinstance(place.value, dict)
            ]
            _find_missing_pictures(named, folder, problems)


def _find_option_nodes(fields: Fields) -> list[Node]:
    return Fields(fields.children["choice"], fields.problems).items("options", required=False)


def _find_missing_pictures(named: list[tuple[str, Node]], folder: Path, problems: Problems) -> None:
    """named: what is chosen from side by side; one picture for two of them would tell nothing."""
    first: dict[str, int] = {}
    for name, place in named:
        if name in first:
            problems.add(
                place,
                phrase("picture '%(name)s' appears twice in one choice", name=name),
                phrase("draw another; the first is on line %(first)s", first=first[name]),
            )
            continue
        first[name] = place.line
        try:
            check_picture(folder / f"{name}.svg")
        except BadInput as error:
            problems.add(place, error.what, error.todo)


def _find_cycles(checks: list[dict[str, Any]], nodes: list[Node], problems: Problems) -> None:
    """A calculated check must not need itself, directly or through others."""
    needs = {check["id"]: check.get("inputs", []) for check in checks}
    for check, node in zip(checks, nodes, strict=True):
        reached, ahead = set(), list(check.get("inputs", []))
        while ahead:
            name = ahead.pop()
            if name not in reached:
                reached.add(name)
                ahead += needs.get(name, [])
        if check["id"] in reached:
            problems.add(
                node,
                phrase("'%(id)s' needs itself through its inputs", id=check["id"]),
                phrase("remove the circle"),
                "calculated.inputs",
            )


def _find_gauged_inputs(
    checks: list[dict[str, Any]], nodes: list[Node], problems: Problems
) -> None:
    gauged = {check["id"] for check in checks if check.get("gauge")}
    for check, node in zip(checks, nodes, strict=True):
        for name in (one for one in dict.fromkeys(check.get("inputs", [])) if one in gauged):
            problems.add(
                node,
                phrase("'%(name)s' may be gauged, which gives no number", name=name),
                phrase("remove its gauge, or the input"),
                "calculated.inputs",
            )


def _find_unsafe_order(draft: dict[str, Any], nodes: list[Node], problems: Problems) -> None:
    """The walk goes part by part: what must come before a check stands in an earlier part, or
    before it in its own.
    """
    parts = [part["id"] for part in draft["parts"]]
    places = {
        check["id"]: (parts.index(check["part"]), number)
        for number, check in enumerate(draft["checks"])
        if check["part"] in parts
    }
    for check, node in zip(draft["checks"], nodes, strict=True):
        for name in check["after"] or ():
            if places.get(name, (0, 0)) >= places.get(check["id"], (0, 1)):
                problems.add(
                    node,
                    phrase("'%(name)s' comes later in the walk", name=name),
                    phrase("move its part, or the check, to the front"),
                    "after",
                )
