"""Words of a paper sheet: limits, sums and conditions in short."""

from collections.abc import Mapping, Sequence
from typing import Any

STATISTICS = {
    "smallest": "the smallest counts", "largest": "the largest counts", "mean": "their mean counts", "range": "largest less smallest counts",
}
SIGNS = {"*": "×", "/": "÷", "-": "−", "+": "+"}


def pick(text: Mapping[str, str], language: str) -> str:
    return text.get(language) or text["en"]


def needs_letter(check: Mapping[str, Any]) -> bool:
    """Whether a fail leaves open which fault it is: neither the only one, nor told by an option or by the side."""
    if check["kind"] == "choice" or len(check["faults"]) < 2:
        return False
    sides = [fault["side"] for fault in check["faults"]]
    crossed = {"below": "lower", "above": "upper"}
    limits = check.get("limits", {}).values()
    return not limits or any(sides.count(side) != 1 for side, key in crossed.items() if any(one[key] is not None for one in limits))


def describe_limits(check: Mapping[str, Any], sizes: Sequence[str]) -> list[dict[str, str]]:
    """[{"size", "text"}]; size is empty where all the sizes asked for have the same limits."""
    if "limits" not in check:
        return []
    texts = {size: _describe_limit(check, check["limits"].get(size)) for size in sizes}
    if len(set(texts.values())) == 1:
        return [{"size": "", "text": texts[sizes[0]]}]
    return [{"size": size, "text": text} for size, text in texts.items()]


def _describe_limit(check: Mapping[str, Any], limits: Mapping[str, Any] | None) -> str:
    if limits is None:
        return "no limits"
    lower, nominal, upper, unit = limits["lower"], limits["nominal"], limits["upper"], check["unit"]
    if lower is not None and lower == upper:
        return f"exactly {_number(lower)} {unit}"
    aim = f", aim {_number(nominal)}" if nominal is not None and nominal not in (lower, upper) else ""
    is_guarded = check["decision"] == "guarded" and check["uncertainty"]
    read = f"; so read {_range(limits['accept_lower'], limits['accept_upper'])}, the tool allowed for" if is_guarded else ""
    return f"{_range(lower, upper)} {unit}{aim}{read}"


def _range(lower: float | None, upper: float | None) -> str:
    if lower is not None and upper is not None:
        return f"{_number(lower)} to {_number(upper)}"
    return f"at least {_number(lower)}" if lower is not None else f"at most {_number(upper)}"


def _number(value: float) -> str:
    return f"{value:.10g}".replace("-", "−")


def describe_statistic(check: Mapping[str, Any]) -> str:
    if check["kind"] == "count" and check.get("rows"):
        rows = {size: ", ".join(map(str, row)) for size, row in check["rows"].items()}
        return "rows " + (next(iter(rows.values())) if len(set(rows.values())) == 1 else "; ".join(f"{size} {row}" for size, row in rows.items()))
    return STATISTICS[check["by"]] if check["kind"] == "readings" else ""


def describe_sum(tree: Any, numbers: Mapping[str, int]) -> str:
    """The sum of a calculated check in words of the sheet: no. 5 × no. 6 ÷ 100."""
    return _walk(tree, numbers, is_inner=False)


def _walk(tree: Any, numbers: Mapping[str, int], *, is_inner: bool = True) -> str:
    if not isinstance(tree, list | tuple):
        return _number(tree)
    head, *rest = tree
    if head == "input":
        return f"no. {numbers[rest[0]]}"
    if head in SIGNS:
        # Products read alike without brackets; every other inner sum gets them.
        inner = [_walk(part, numbers, is_inner=not (head in "*/" and place == 0 and _is_product(part))) for place, part in enumerate(rest)]
        text = f" {SIGNS[head]} ".join(inner)
        return f"({text})" if is_inner else text
    if head == "neg":
        return f"−{_walk(rest[0], numbers)}"
    if head == "abs":
        return f"|{_walk(rest[0], numbers, is_inner=False)}|"
    words = {"sqrt": "root of", "min": "smallest of", "max": "largest of"}
    return f"{words[head]} ({', '.join(_walk(part, numbers, is_inner=False) for part in rest)})"


def _is_product(tree: Any) -> bool:
    return isinstance(tree, list | tuple) and tree[0] in "*/"


def describe_when(when: Mapping[str, Any]) -> str:
    """{"batch.painted": true} -> "only if painted: yes"."""
    told = [f"{key.removeprefix('batch.').replace('_', ' ')}: {_answer(value)}" for key, value in when.items()]
    return f"only if {', '.join(told)}" if told else ""


def _answer(value: Any) -> str:
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
