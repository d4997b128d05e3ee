"""Reads the block of a check that is named after its kind: tick, measure, count, readings, choice,
calculated.

Each reader gives the keys of the compiled check that belong to the kind.
"""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_UP, Decimal
from typing import Any

from qcapp.checklist.expression import RESERVED, ExpressionError, compile_expression
from qcapp.checklist.fields import Fields, json_number, suggest
from qcapp.checklist.model import NUMBER_KINDS
from qcapp.checklist.source import Node, Problems
from qcapp.i18n.phrase import phrase

MAX_READINGS = 12
# ILAC-G8:09/2019 knows none above it: fewer than one in a million wrongly passed on the line.
MAX_GUARD = 3


@dataclass(frozen=True)
class Surroundings:
    """What a check may refer to; kinds: {check id: kind}."""

    sizes: list[str]
    parts: dict[str, Node]
    steps: dict[str, Node]
    kinds: dict[str, str]


def read_kind(
    kind: str, block: Node, fault_ids: set[str], around: Surroundings, problems: Problems
) -> dict[str, Any]:
    """The compiled keys of that kind; what is wrong goes to problems."""
    fields = Fields(block, problems)
    read = READERS[kind](fields, fault_ids, around)
    fields.finish()
    return read


def _read_tick(fields: Fields, fault_ids: set[str], around: Surroundings) -> dict[str, Any]:
    return {}


def _read_measure(fields: Fields, fault_ids: set[str], around: Surroundings) -> dict[str, Any]:
    repeatability = fields.number("repeatability", required=False)
    scale = _read_scale(fields, around)
    if repeatability is None:
        return scale
    uncertainty = Decimal(str(scale["uncertainty"]))
    if not 0 <= repeatability <= uncertainty:
        place = fields.children["repeatability"]
        fields.problems.add(
            place,
            phrase("not between 0 and the uncertainty %(uncertainty)s", uncertainty=uncertainty),
            phrase("it is the part of it that differs from reading to reading"),
        )
        return scale
    band = Decimal(str(scale.get("guard_factor", 1))) * mean_uncertainty(uncertainty, repeatability)
    for limits in scale["limits"].values():
        for name, limit, side in (
            ("twice_lower", limits["lower"], 1),
            ("twice_upper", limits["upper"], -1),
        ):
            if limit is not None:
                limits[name] = json_number(Decimal(str(limit)) + side * band)
    return {**scale, "repeatability": json_number(repeatability)}


def mean_uncertainty(uncertainty: Decimal, repeatability: Decimal) -> Decimal:
    """Expanded uncertainty (k = 2) of the mean of two readings, rounded up to a millionth.

    Only what differs from one reading to the next is halved in variance (JCGM 100:2008, 4.2.3);
    a worn or badly marked rule is as wrong the second time.
    """
    return (uncertainty**2 - repeatability**2 / 2).sqrt().quantize(Decimal("0.000001"), ROUND_UP)


def _read_count(fields: Fields, fault_ids: set[str], around: Surroundings) -> dict[str, Any]:
    scale = _read_scale(fields, around, is_count=True)
    rows_node = fields.find("rows", required=False)
    if rows_node is None:
        return scale
    rows = {}
    for size, node in _by_size(rows_node, around, fields.problems, must_be_all=False).items():
        rows[size] = _read_rows(node, (scale["limits"] or {}).get(size), fields.problems)
    return {**scale, "rows": rows}


def _read_rows(node: Node, limits: dict[str, Any] | None, problems: Problems) -> list[int]:
    values = [item.value for item in node.value] if isinstance(node.value, list) else []
    if not values or not all(
        isinstance(value, Decimal) and value == int(value) and value > 0 for value in values
    ):
        problems.add(
            node, phrase("rows are whole numbers from 1"), phrase("write them like [3, 4, 5, 4, 3]")
        )
        return []
    total = int(sum(values))
    exact = limits and limits["lower"] == limits["upper"] == limits["nominal"]
    if limits and not exact:
        problems.add(
            node,
            phrase("rows are given but the count has no exact limit"),
            phrase("make lower, nominal and upper equal"),
        )
    elif limits and total != limits["nominal"]:
        problems.add(
            node,
            phrase(
                "the rows add up to %(total)s, the count is %(nominal)s",
                total=total,
                nominal=limits["nominal"],
            ),
            phrase("mend the rows or the count"),
        )
    return [int(value) for value in values]


def _read_readings(fields: Fields, fault_ids: set[str], around: Surroundings) -> dict[str, Any]:
    scale = _read_scale(fields, around)
    n = fields.whole("n", least=2)
    if n is not None and n > MAX_READINGS:
        fields.problems.add(
            fields.children["n"],
            phrase("more than %(max_readings)s readings", max_readings=MAX_READINGS),
            phrase("ask for fewer"),
        )
    by = fields.one_of("by", ("smallest", "largest", "mean", "range"))
    labels = [fields.as_words(item) for item in fields.items("labels")]
    if n is not None and labels and len(labels) != n:
        fields.problems.add(
            fields.children["labels"],
            phrase("%(labels)s labels for %(n)s readings", labels=len(labels), n=n),
            phrase("give one label for each"),
        )
    return {**scale, "n": n, "by": by, "labels": labels}


def _read_choice(fields: Fields, fault_ids: set[str], around: Surroundings) -> dict[str, Any]:
    problems, options, seen = fields.problems, [], {}
    for node in fields.items("options"):
        item = Fields(node, problems)
        option = {
            "id": item.id(),
            "title": item.words("title"),
            "verdict": item.one_of("verdict", ("pass", "fail")),
        }
        option["fault"] = item.text("fault", required=False)
        item.finish()
        if option["id"] in seen:
            problems.add(
                node,
                phrase("option '%(id)s' is there twice", id=option["id"]),
                phrase("give it another id"),
            )
        seen[option["id"]] = node
        if option["fault"] is not None and option["fault"] not in fault_ids:
            problems.add(
                node,
                phrase("fault '%(fault)s' is not in the check's faults", fault=option["fault"]),
                suggest(option["fault"], fault_ids),
                "fault",
            )
        options.append(option)
    for verdict in ("pass", "fail"):
        if options and verdict not in [option["verdict"] for option in options]:
            problems.add(
                fields.children["options"],
                phrase("no option with verdict %(verdict)s", verdict=verdict),
                phrase("add one"),
            )
    return {"options": options}


def _read_calculated(fields: Fields, fault_ids: set[str], around: Surroundings) -> dict[str, Any]:
    scale = _read_scale(fields, around)
    inputs = _read_inputs(fields, around)
    text = fields.text("expression")
    tree: Any = 0
    if text is not None and inputs:
        try:
            tree = compile_expression(text, inputs)
        except ExpressionError as error:
            place = fields.children["expression"]
            fields.problems.add(
                place,
                phrase(
                    "%(what)s at column %(column)s of the sum", what=error.what, column=error.column
                ),
                error.todo,
            )
        else:
            for name in sorted(
                name for name, check in inputs.items() if check not in _inputs_in(tree)
            ):
                fields.problems.add(
                    fields.children["inputs"],
                    phrase("input '%(name)s' is not used", name=name),
                    phrase("use it or remove it"),
                    name,
                )
    return {**scale, "inputs": list(dict.fromkeys(inputs.values())), "expression": tree}


def _inputs_in(tree: Any) -> set[str]:
    if not isinstance(tree, list):
        return set()
    return (
        {tree[1]} if tree[0] == "input" else set().union(*(_inputs_in(part) for part in tree[1:]))
    )


def _read_inputs(fields: Fields, around: Surroundings) -> dict[str, str]:
    node, problems = fields.find("inputs"), fields.problems
    if node is None or not isinstance(node.value, dict) or not node.value:
        if node is not None:
            problems.add(
                node,
                phrase("names of inputs are expected"),
                phrase("write {width: door-opening-width}"),
            )
        return {}
    for name, child in node.value.items():
        if not name.isidentifier() or not name.isascii() or name in RESERVED:
            problems.add(
                child,
                phrase("'%(name)s' cannot be an input's name", name=name),
                phrase("use letters only, other than min, max, abs, sqrt, pi"),
            )
        kind = around.kinds.get(str(child.value))
        if kind is None:
            problems.add(
                child,
                phrase("check '%(value)s' is not known", value=child.value),
                suggest(str(child.value), around.kinds),
            )
        elif kind not in NUMBER_KINDS:
            problems.add(
                child,
                phrase(
                    "check '%(value)s' gives no number (%(kind)s)", value=child.value, kind=kind
                ),
                phrase("use a measure, count, readings or calculated check"),
            )
    return {name: str(child.value) for name, child in node.value.items()}


def _read_scale(fields: Fields, around: Surroundings, is_count: bool = False) -> dict[str, Any]:
    """unit, resolution, uncertainty, decision, possible, limits, guard_factor where given; a count
    is exact unless told otherwise.
    """
    needed = not is_count
    resolution = fields.number("resolution", required=needed)
    uncertainty = fields.number("uncertainty", required=needed)
    decision = fields.one_of("decision", ("simple", "guarded"), required=needed)
    resolution = Decimal(1) if resolution is None else resolution
    uncertainty = Decimal(0) if uncertainty is None else uncertainty
    if resolution <= 0:
        fields.problems.add(
            fields.children["resolution"],
            phrase("must be above 0"),
            phrase("write the tool's smallest step"),
        )
    if uncertainty < 0:
        fields.problems.add(
            fields.children["uncertainty"],
            phrase("must not be below 0"),
            phrase("write 0 to guard nothing"),
        )
    guard_factor = fields.number("guard_factor", required=False)
    if guard_factor is not None and not 0 <= guard_factor <= MAX_GUARD:
        fields.problems.add(
            fields.children["guard_factor"],
            phrase("not between 0 and %(max_guard)s", max_guard=MAX_GUARD),
            phrase("write 1, or 0.825 for the edition of 2017"),
        )
    band = uncertainty * (1 if guard_factor is None else guard_factor)
    possible = _read_possible(fields)
    # A range of readings has another zero than the readings, so its limits may lie elsewhere.
    by_node = fields.children.get("by")
    bounds = None if by_node is not None and by_node.value == "range" else possible
    limits_node = fields.find("limits")
    limits = {}
    if limits_node is not None:
        for size, node in _by_size(limits_node, around, fields.problems, must_be_all=True).items():
            limits[size] = _read_limits(node, band, bounds, is_count, fields.problems)
    return {
        "unit": fields.text("unit"),
        "resolution": json_number(resolution),
        "uncertainty": json_number(uncertainty),
        "decision": decision or "simple",
        "possible": possible and {key: json_number(value) for key, value in possible.items()},
        "limits": limits,
        **({} if guard_factor is None else {"guard_factor": json_number(guard_factor)}),
    }


def _read_possible(fields: Fields) -> dict[str, Decimal] | None:
    node = fields.find("possible")
    if node is None:
        return None
    inner = Fields(node, fields.problems)
    lower, upper = inner.number("lower"), inner.number("upper")
    inner.finish()
    if lower is None or upper is None:
        return None
    if lower >= upper:
        fields.problems.add(
            node,
            phrase("lower %(lower)s is not below upper %(upper)s", lower=lower, upper=upper),
            phrase("swap or mend them"),
        )
    return {"lower": lower, "upper": upper}


def _by_size(
    node: Node, around: Surroundings, problems: Problems, must_be_all: bool
) -> dict[str, Node]:
    """{size: node}; `all` stands for every size."""
    children = node.value if isinstance(node.value, dict) else {}
    if "all" in children:
        for name in children.keys() - {"all"}:
            problems.add(
                children[name],
                phrase("stands beside all"),
                phrase("use all, or one entry for each size"),
            )
        return dict.fromkeys(around.sizes, children["all"])
    for name in children.keys() - set(around.sizes):
        problems.add(
            children[name],
            phrase("size '%(name)s' is not known", name=name),
            suggest(name, [*around.sizes, "all"]),
        )
    for size in around.sizes:
        if must_be_all and size not in children:
            problems.add(
                node,
                phrase("no entry for size '%(size)s'", size=size),
                phrase("add %(size)s: or all:", size=size),
                size,
            )
    return {size: children[size] for size in around.sizes if size in children}


def _read_limits(
    node: Node,
    band: Decimal,
    possible: dict[str, Decimal] | None,
    is_count: bool,
    problems: Problems,
) -> dict[str, Any]:
    inner = Fields(node, problems)
    lower, nominal, upper = (
        inner.number(name, required=False) for name in ("lower", "nominal", "upper")
    )
    inner.finish()
    given = {"lower": lower, "nominal": nominal, "upper": upper}
    guarded = {
        "accept_lower": None if lower is None else lower + band,
        "accept_upper": None if upper is None else upper - band,
    }
    _check_order(node, given, guarded, problems)
    for name, value in given.items():
        if value is not None and is_count and value != value.to_integral_value():
            problems.add(
                inner.children[name],
                phrase("a count has whole limits"),
                phrase("write a whole number"),
            )
        if value is not None and possible and not possible["lower"] <= value <= possible["upper"]:
            problems.add(
                inner.children[name],
                phrase("%(value)s is outside possible", value=value),
                phrase("widen possible or mend the limit"),
            )
    return {
        name: None if value is None else json_number(value)
        for name, value in {**given, **guarded}.items()
    }


def _check_order(
    node: Node, given: dict[str, Any], guarded: dict[str, Any], problems: Problems
) -> None:
    lower, nominal, upper = given.values()
    if lower is None and upper is None:
        problems.add(node, phrase("no limit at all"), phrase("give lower, upper or both"))
    elif lower is not None and upper is not None and lower > upper:
        problems.add(
            node,
            phrase("lower %(lower)s is above upper %(upper)s", lower=lower, upper=upper),
            phrase("swap or mend them"),
        )
        return
    elif (
        lower is not None
        and upper is not None
        and guarded["accept_lower"] > guarded["accept_upper"]
    ):
        problems.add(
            node,
            phrase("the uncertainty is wider than the limits"),
            phrase("use a better tool or wider limits"),
        )
    if nominal is not None and (
        (lower is not None and nominal < lower) or (upper is not None and nominal > upper)
    ):
        problems.add(
            node,
            phrase("nominal %(nominal)s is outside the limits", nominal=nominal),
            phrase("mend nominal or the limits"),
            "nominal",
        )


READERS: dict[str, Callable[[Fields, set[str], Surroundings], dict[str, Any]]] = {
    "tick": _read_tick,
    "measure": _read_measure,
    "count": _read_count,
    "readings": _read_readings,
    "choice": _read_choice,
    "calculated": _read_calculated,
}
