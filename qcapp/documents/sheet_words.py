"""Words of a paper sheet: limits, sums and conditions in short."""

from collections.abc import Mapping, Sequence
from typing import Any

from qcapp.i18n.localized_text import COLON, SEMICOLON, Figure, join
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.sizes import name_size
from qcapp.i18n.units import name_unit

STATISTICS = {
    "smallest": phrase("the smallest counts"),
    "largest": phrase("the largest counts"),
    "mean": phrase("their mean counts"),
    "range": phrase("the largest minus the smallest counts"),
}
SIGNS = {"*": "×", "/": "÷", "-": "−", "+": "+"}


def needs_letter(check: Mapping[str, Any]) -> bool:
    """Whether a fail leaves open which fault it is: neither the only one, nor told by an option or
    by the side.
    """
    if "options" in check or len(check["faults"]) < 2:
        return False
    sides = [fault["side"] for fault in check["faults"]]
    crossed = {"below": "lower", "above": "upper"}
    limits = check.get("limits", {}).values()
    return not limits or any(
        sides.count(side) != 1
        for side, key in crossed.items()
        if any(one[key] is not None for one in limits)
    )


def describe_limits(check: Mapping[str, Any], sizes: Sequence[str]) -> list[dict[str, str]]:
    """[{"size", "text"}]; size is empty where all the sizes asked for have the same limits."""
    if "limits" not in check:
        return []
    texts = {size: _describe_limit(check, check["limits"].get(size)) for size in sizes}
    if len(set(texts.values())) == 1:
        return [{"size": "", "text": texts[sizes[0]]}]
    return [{"size": name_size(size), "text": text} for size, text in texts.items()]


def _describe_limit(check: Mapping[str, Any], limits: Mapping[str, Any] | None) -> Phrase:
    if limits is None:
        return phrase("no limits")
    lower, nominal, upper = limits["lower"], limits["nominal"], limits["upper"]
    unit = name_unit(check["unit"])
    if lower is not None and lower == upper:
        return _count_one(
            check, lower, phrase("exactly %(value)s", value=_number(lower))
        ) or phrase("exactly %(value)s %(unit)s", value=_number(lower), unit=unit)
    span = _range(lower, upper)
    only = upper if lower is None else lower if upper is None else None
    words: list[Phrase] = [_count_one(check, only, span) or join(" ", (span, unit))]
    if nominal is not None and nominal not in (lower, upper):
        words.append(phrase("target %(value)s", value=_number(nominal)))
    wanted = join(", ", words)
    if not (check["decision"] == "guarded" and check["uncertainty"]):
        return wanted
    return phrase(
        "%(wanted)s; allowing for the tool, the reading must be %(read)s",
        wanted=wanted,
        read=_range(limits["accept_lower"], limits["accept_upper"]),
    )


def _count_one(check: Mapping[str, Any], value: float | None, span: Phrase) -> Phrase | None:
    """What is counted stands in the plural, which does not follow a 1: "rivets: exactly 1"."""
    if check["kind"] != "count" or value != 1:
        return None
    return phrase("%(unit)s: %(span)s", unit=name_unit(check["unit"]), span=span)


def _range(lower: float | None, upper: float | None) -> Phrase:
    if lower is not None and upper is not None:
        return phrase("%(low)s to %(high)s", low=_number(lower), high=_number(upper))
    if lower is not None:
        return phrase("at least %(value)s", value=_number(lower))
    if upper is not None:
        return phrase("at most %(value)s", value=_number(upper))
    return phrase("no limits")


def _number(value: float) -> Figure:
    return Figure(f"{value:.10g}".replace("-", "−"))


def describe_statistic(check: Mapping[str, Any]) -> str:
    if check.get("rows"):
        rows = {size: ", ".join(map(str, row)) for size, row in check["rows"].items()}
        by_size = join(SEMICOLON, (join(" ", (name_size(size), row)) for size, row in rows.items()))
        return phrase(
            "rows %(rows)s",
            rows=next(iter(rows.values())) if len(set(rows.values())) == 1 else by_size,
        )
    return STATISTICS[check["by"]] if "by" in check else ""


def describe_sum(tree: Any, numbers: Mapping[str, int]) -> str:
    """The sum of a calculated check in words of the sheet: no. 5 × no. 6 ÷ 100."""
    return _walk(tree, numbers, is_inner=False)


def _walk(tree: Any, numbers: Mapping[str, int], *, is_inner: bool = True) -> str:
    if not isinstance(tree, list | tuple):
        return _number(tree)
    head, *rest = tree
    if head == "input":
        return phrase("no. %(number)s", number=numbers[rest[0]])
    if head in SIGNS:
        # Products read alike without brackets; every other inner sum gets them.
        inner = [
            _walk(part, numbers, is_inner=not (head in "*/" and place == 0 and _is_product(part)))
            for place, part in enumerate(rest)
        ]
        text = join(f" {SIGNS[head]} ", inner)
        return join("", ("(", text, ")")) if is_inner else text
    if head == "neg":
        return join("", ("−", _walk(rest[0], numbers)))
    if head == "abs":
        return join("", ("|", _walk(rest[0], numbers, is_inner=False), "|"))
    listed = join(", ", (_walk(part, numbers, is_inner=False) for part in rest))
    if head == "sqrt":
        return phrase("root of (%(parts)s)", parts=listed)
    return (
        phrase("smallest of (%(parts)s)", parts=listed)
        if head == "min"
        else phrase("largest of (%(parts)s)", parts=listed)
    )


def _is_product(tree: Any) -> bool:
    return isinstance(tree, list | tuple) and tree[0] in "*/"


def describe_when(when: Mapping[str, Any]) -> str:
    """{"batch.painted": true} -> "only if painted: yes"."""
    conditions = [
        join(COLON, (key.removeprefix("batch.").replace("_", " "), _answer(value)))
        for key, value in when.items()
    ]
    return phrase("only if %(conditions)s", conditions=join(", ", conditions)) if conditions else ""


def _answer(value: Any) -> str:
    return (phrase("yes") if value else phrase("no")) if isinstance(value, bool) else str(value)
