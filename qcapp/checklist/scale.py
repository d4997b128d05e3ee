"""Reads what every check with a number has: unit, resolution, uncertainty and limits by size."""

from decimal import Decimal
from typing import Any

from qcapp.checklist.fields import Fields, json_number, suggest
from qcapp.checklist.source import Node, Problems
from qcapp.checklist.surroundings import Surroundings
from qcapp.i18n.phrase import phrase

# ILAC-G8:09/2019 knows none above it: fewer than one in a million wrongly passed on the line.
MAX_GUARD = 3


def read_scale(fields: Fields, around: Surroundings, is_count: bool = False) -> dict[str, Any]:
    """unit, resolution, uncertainty, decision, possible, limits, guard_factor where given; a count
    is exact unless told otherwise.
    """
    needed = not is_count
    resolution = fields.number("resolution", required=needed)
    uncertainty = fields.number("uncertainty", required=needed)
    decision = fields.one_of("decision", ("simple", "guarded"), required=needed)
    resolution = Decimal(1) if resolution is None else resolution
    uncertainty = Decimal(0) if uncertainty is None else uncertainty
    guard_factor = fields.number("guard_factor", required=False)
    _check_tool(fields, resolution, uncertainty, guard_factor)
    band = uncertainty * (1 if guard_factor is None else guard_factor)
    possible = _read_possible(fields)
    limits = _read_all_limits(fields, around, band, possible, is_count)
    return {
        "unit": fields.text("unit"),
        "resolution": json_number(resolution),
        "uncertainty": json_number(uncertainty),
        "decision": decision or "simple",
        "possible": possible and {key: json_number(value) for key, value in possible.items()},
        "limits": limits,
        **({} if guard_factor is None else {"guard_factor": json_number(guard_factor)}),
    }


def _check_tool(
    fields: Fields, resolution: Decimal, uncertainty: Decimal, guard_factor: Decimal | None
) -> None:
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
            phrase("write 0 for no guard"),
        )
    if guard_factor is not None and not 0 <= guard_factor <= MAX_GUARD:
        fields.problems.add(
            fields.children["guard_factor"],
            phrase("not between 0 and %(max_guard)s", max_guard=MAX_GUARD),
            phrase("write 1, or 0.825 for the edition of 2017"),
        )


def _read_all_limits(
    fields: Fields,
    around: Surroundings,
    band: Decimal,
    possible: dict[str, Decimal] | None,
    is_count: bool,
) -> dict[str, Any]:
    # A range of readings has another zero than the readings, so its limits may lie elsewhere.
    by_node = fields.children.get("by")
    bounds = None if by_node is not None and by_node.value == "range" else possible
    node = fields.find("limits")
    if node is None:
        return {}
    return {
        size: _read_limits(own, band, bounds, is_count, fields.problems)
        for size, own in nodes_by_size(node, around, fields.problems, must_be_all=True).items()
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
            phrase("swap or correct them"),
        )
    return {"lower": lower, "upper": upper}


def nodes_by_size(
    node: Node, around: Surroundings, problems: Problems, must_be_all: bool
) -> dict[str, Node]:
    """{size: node}; `all` stands for every size."""
    children = node.value if isinstance(node.value, dict) else {}
    if "all" in children:
        for name in (one for one in children if one != "all"):
            problems.add(
                children[name],
                phrase("cannot be used together with all"),
                phrase("use all, or one entry for each size"),
            )
        return dict.fromkeys(around.sizes, children["all"])
    for name in (one for one in children if one not in around.sizes):
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
                phrase("%(value)s is outside the possible range", value=value),
                phrase("widen possible or correct the limit"),
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
            phrase("swap or correct them"),
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
            phrase("correct nominal or the limits"),
            "nominal",
        )
