"""Reads a checklist file: every error in it is told with file, line and key, or it becomes a
Checklist.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from qcapp.checklist.base_check import MAX_LASTS, MIN_LASTS
from qcapp.checklist.check_kinds import NUMBER_KINDS, is_for_first_piece
from qcapp.checklist.drawing import Drawings, check_picture
from qcapp.checklist.fields import Fields, suggest
from qcapp.checklist.items import MAX_KEY_POINTS
from qcapp.checklist.kinds import READERS, read_kind
from qcapp.checklist.model import Checklist
from qcapp.checklist.photo import find_misplaced
from qcapp.checklist.pictures import PICTURES
from qcapp.checklist.source import (
    ChecklistError,
    ChecklistErrors,
    Node,
    Problems,
    parse_source,
    read_source,
)
from qcapp.checklist.surroundings import Surroundings
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

__all__ = ["ChecklistError", "ChecklistErrors", "find_errors", "load_checklist", "read_text"]

SEVERITIES = ("critical", "major", "minor")


def load_checklist(path: Path | str) -> Checklist:
    """The checklist in a YAML file; its drawing is looked up beside it.

    Raises ChecklistErrors, which holds every error of the file.
    """
    checklist, errors = _read(Path(path))
    if errors or checklist is None:
        raise ChecklistErrors(errors)
    return checklist


def find_errors(path: Path | str) -> list[ChecklistError]:
    """Every error of a checklist file in line order; empty when it can be used."""
    return _read(Path(path))[1]


def read_text(
    text: str, name: str, folder: Path, drawn: Mapping[str, str] | None = None
) -> tuple[Checklist | None, list[ChecklistError]]:
    """The checklist in a YAML text, or every error of it in line order. name: said in errors;
    folder: of the drawings; drawn: SVG by name of drawings that lie elsewhere.
    """
    problems = Problems(name)
    return _compile(parse_source(text, problems), Drawings(folder, drawn or {}), problems)


def _read(path: Path) -> tuple[Checklist | None, list[ChecklistError]]:
    problems = Problems(path.name)
    return _compile(read_source(path, problems), Drawings(path.parent), problems)


def _compile(
    root: Node | None, drawings: Drawings, problems: Problems
) -> tuple[Checklist | None, list[ChecklistError]]:
    draft = _read_checklist(root, drawings, problems) if root else None
    if problems.errors or draft is None:
        return None, problems.listed()
    return Checklist.from_compiled(draft), []


def _read_checklist(root: Node, drawings: Drawings, problems: Problems) -> dict[str, Any]:
    fields = Fields(root, problems)
    draft: dict[str, Any] = {
        "id": fields.id(),
        "revision": fields.whole("revision", minimum=1),
        "title": fields.words("title"),
        "stage": fields.id("stage"),
        **(earlier := _read_earlier(fields)),
        "drawing": fields.text("drawing"),
        "sizes": [fields.as_id(node) for node in fields.items("sizes")],
    }
    first = fields.items("first_piece", required=False)
    parts, steps, checks = (fields.items(name) for name in ("parts", "steps", "checks"))
    tools = fields.items("tools", required=False)
    fields.finish()
    draft["tools"] = [_read_part(node, problems) for node in tools]
    draft["parts"] = [_read_part(node, problems) for node in parts]
    draft["steps"] = [_read_step(node, problems) for node in steps]
    around = Surroundings(
        sizes=[size for size in draft["sizes"] if size],
        parts=_index(parts, problems),
        steps=_index(steps, problems),
        tools=_index(tools, problems),
        kinds={name: _find_kind(node) for name, node in _index(checks, problems).items()},
        earlier=[stage for stages in earlier.values() for stage in stages],
    )
    if len(set(around.sizes)) < len(around.sizes):
        problems.add(fields.children["sizes"], phrase("a size appears twice"), phrase("keep one"))
    draft["checks"] = [_read_check(node, around, problems) for node in checks]
    draft["first_piece"] = _read_first_piece(first, draft["checks"], around, problems)
    _find_unused(draft["checks"], around, problems)
    _find_undrawn(fields, draft["drawing"], drawings, around, problems)
    _find_unpictured(draft["checks"], checks, drawings.folder / PICTURES, problems)
    _find_cycles(draft["checks"], checks, problems)
    _find_gauged_inputs(draft["checks"], checks, problems)
    _find_unsafe_order(draft, checks, problems)
    find_misplaced(draft, checks, problems)
    return draft


def _read_first_piece(
    nodes: list[Node], checks: list[dict[str, Any]], around: Surroundings, problems: Problems
) -> list[str]:
    """A first piece gets the critical and the measured checks of its step, so it must have one."""
    taken = {
        check["step"]
        for check in checks
        if is_for_first_piece(check["severity"], check.get("kind"))
    }
    for place, node in enumerate(nodes):
        name = str(node.value)
        if name not in around.steps:
            problems.add(
                node,
                phrase("step '%(value)s' is not known", value=name),
                suggest(name, around.steps),
            )
        elif name not in taken:
            problems.add(
                node,
                phrase("step '%(value)s' has no critical and no measured check", value=name),
                phrase("a first piece gets these; remove the step here"),
            )
        elif name in [str(one.value) for one in nodes[:place]]:
            problems.add(
                node, phrase("step '%(value)s' is there twice", value=name), phrase("keep one")
            )
    return [str(node.value) for node in nodes]


def _read_earlier(fields: Fields) -> dict[str, list[str]]:
    """Stages that this one goes on from: of pieces built in, and of this piece itself."""
    found: dict[str, list[str]] = {}
    stage = fields.children.get("stage")
    taken = {stage.value} if stage and isinstance(stage.value, str) else set()
    for name in ("made_from", "same_serial"):
        nodes = fields.items(name, required=False)
        for node in nodes:
            if node.value in taken:
                fields.problems.add(
                    node,
                    phrase("stage '%(value)s' is there twice", value=str(node.value)),
                    phrase("name every earlier stage once, and not the checklist's own"),
                )
            taken.add(str(node.value))
        found[name] = [known for node in nodes if (known := fields.as_id(node))]
    return found


def _index(nodes: list[Node], problems: Problems) -> dict[str, Node]:
    """{id: node}; a second use of an id is a problem."""
    found: dict[str, Node] = {}
    for node in nodes:
        child = node.value.get("id") if isinstance(node.value, dict) else None
        if child is None or not isinstance(child.value, str):
            continue
        if child.value in found:
            first = found[child.value].line
            problems.add(
                child,
                phrase("id '%(value)s' appears twice", value=child.value),
                phrase("choose another; the first is on line %(first)s", first=first),
            )
        else:
            found[child.value] = node
    return found


def _find_kind(node: Node) -> str:
    keys = node.value if isinstance(node.value, dict) else {}
    return next((name for name in READERS if name in keys), "")


def _read_part(node: Node, problems: Problems) -> dict[str, Any]:
    fields = Fields(node, problems)
    part = {"id": fields.id(), "title": fields.words("title")}
    fields.finish()
    return part


def _read_step(node: Node, problems: Problems) -> dict[str, Any]:
    fields = Fields(node, problems)
    step: dict[str, Any] = {
        "id": fields.id(),
        "trade": fields.id("trade"),
        "title": fields.words("title"),
    }
    if fields.find("rework_minutes", required=False):
        step["rework_minutes"] = fields.whole("rework_minutes", 1)
    nodes = fields.items("key_points", required=False)
    if len(nodes) > MAX_KEY_POINTS:
        problems.add(
            fields.children["key_points"],
            phrase("more than %(most)s key points", most=MAX_KEY_POINTS),
            phrase("keep the most important"),
        )
    if nodes:
        step["key_points"] = [_read_key_point(point, problems) for point in nodes]
    fields.finish()
    return step


def _read_key_point(node: Node, problems: Problems) -> dict[str, Any]:
    fields = Fields(node, problems)
    point = {"do": fields.words("do"), "why": fields.words("why")}
    fields.finish()
    return point


def _read_check(node: Node, around: Surroundings, problems: Problems) -> dict[str, Any]:
    fields = Fields(node, problems)
    check: dict[str, Any] = {
        "id": fields.id(),
        "part": fields.one_of("part", around.parts),
        "step": fields.one_of("step", around.steps),
        "severity": fields.one_of("severity", SEVERITIES),
        "ask": fields.words("ask"),
        "how": fields.words("how"),
        "picture": fields.picture(),
        "caution": fields.words("caution", required=False),
        "asked_again": fields.words("asked_again", required=False),
        "should_be_caught_by": _read_caught_by(fields, around),
        "basis": fields.text("basis"),
        "when": _read_when(fields, around),
    }
    check["may_not_apply"] = _read_may_not_apply(fields, check["severity"])
    check["lasts_seconds"] = _read_lasts(fields)
    check["tool"] = fields.one_of("tool", around.tools, required=False)
    check["after"] = _read_after(fields, around)
    kinds = [name for name in READERS if fields.find(name, required=False)]
    kind = kinds[0] if len(kinds) == 1 else None
    # A wrong side is found only when the check's one kind is known.
    check["faults"] = _read_faults(fields, is_number=kind is None or kind in NUMBER_KINDS)
    fields.finish()
    if kind is None:
        what = (
            phrase("has %(n)s kinds: %(kinds)s", n=len(kinds), kinds=kinds)
            if kinds
            else phrase("has no kind")
        )
        problems.add(node, what, phrase("give one of %(readers)s", readers=tuple(READERS)))
        return check
    fault_ids = {fault["id"] for fault in check["faults"] if fault["id"]}
    return {
        **check,
        "kind": kind,
        **read_kind(kind, fields.children[kind], fault_ids, around, problems),
    }


def _read_caught_by(fields: Fields, around: Surroundings) -> dict[str, list[str]] | None:
    """Whether the stage has such checks is seen beside its checklist: earlier_checks.py."""
    node = fields.find("should_be_caught_by", required=False)
    if node is None:
        return None
    stages = Fields(node, fields.problems)
    found = {}
    for stage, child in stages.children.items():
        if stage not in around.earlier:
            fields.problems.add(
                child,
                phrase("this checklist goes on from no stage '%(stage)s'", stage=stage),
                phrase("name the stage under made_from or same_serial, or remove it here"),
            )
        found[stage] = [known for one in stages.items(stage) if (known := fields.as_id(one))]
    return found or None


def _read_may_not_apply(fields: Fields, severity: str | None) -> bool | None:
    node = fields.find("may_not_apply", required=False)
    if node is None:
        return None
    if not isinstance(node.value, bool):
        fields.problems.add(node, phrase("true or false is expected"), phrase("write true"))
    elif node.value and severity == "critical":
        fields.problems.add(
            node,
            phrase("a check for what can hurt someone always applies"),
            phrase("remove the line, or use when for a whole batch"),
        )
    # False is how it is anyway: one way to write it, one hash.
    return True if node.value is True else None


def _read_after(fields: Fields, around: Surroundings) -> list[str] | None:
    nodes = fields.items("after", required=False)
    for node in nodes:
        if node.value not in around.kinds:
            fields.problems.add(
                node,
                phrase("check '%(value)s' is not known", value=str(node.value)),
                suggest(str(node.value), around.kinds),
            )
    return [str(node.value) for node in nodes] or None


def _read_lasts(fields: Fields) -> int | None:
    node = fields.find("lasts_seconds", required=False)
    if node is None:
        return None
    seconds = fields.whole("lasts_seconds", MIN_LASTS)
    if seconds is not None and seconds > MAX_LASTS:
        fields.problems.add(
            node,
            phrase("more than %(most)s seconds", most=MAX_LASTS),
            phrase("make it a check of its own at a later stage"),
        )
    if not fields.find("tick", required=False):
        fields.problems.add(node, phrase("only a tick can be timed"), phrase("remove the line"))
    return seconds


def _read_when(fields: Fields, around: Surroundings) -> dict[str, Any]:
    node = fields.find("when", required=False)
    if node is None:
        return {}
    when = {}
    for key, child in Fields(node, fields.problems).children.items():
        if key != "size" and not (key.startswith("batch.") and key != "batch."):
            fields.problems.add(
                child,
                phrase("'%(key)s' is not a valid condition", key=key),
                phrase("use size or batch.<attribute>, such as batch.painted"),
            )
        elif not isinstance(child.value, str | bool):
            fields.problems.add(
                child,
                phrase("true, false or text is expected"),
                phrase("write true or false, or quote the text"),
            )
        elif key == "size" and child.value not in around.sizes:
            fields.problems.add(
                child,
                phrase("size '%(value)s' is not known", value=child.value),
                suggest(str(child.value), around.sizes),
            )
        when[key] = child.value
    return when


def _read_faults(fields: Fields, is_number: bool) -> list[dict[str, Any]]:
    faults, nodes = [], fields.items("faults")
    for node in nodes:
        item = Fields(node, fields.problems)
        side = item.one_of("side", ("below", "above"), required=False)
        if side and not is_number:
            fields.problems.add(
                node, phrase("side is for numbers only"), phrase("remove it"), "side"
            )
        faults.append(
            {
                "id": item.id(),
                "title": item.words("title"),
                "side": side,
                "picture": item.picture(),
            }
        )
        item.finish()
    _index(nodes, fields.problems)
    return faults


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
        for name in gauged & set(check.get("inputs", [])):
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
