"""A yard's own checklist beside the shipped one: what a person must be told before it is used. Nothing is forbidden here
but to leave a caution out."""

from collections.abc import Iterator
from dataclasses import dataclass

from qcapp.checklist.model import Check, Checklist, Limits

SIDES = {"lower": -1, "upper": 1}


@dataclass(frozen=True)
class Notice:
    """key: the place in the YAML, as in errors; is_safety: it concerns a check that can keep somebody from being hurt."""

    key: str
    text: str
    is_safety: bool


def list_warnings(shipped: Checklist, own: Checklist) -> list[Notice]:
    """In the shipped order: critical checks left out or made weaker, limits moved outwards, sources that no longer fit."""
    found: list[Notice] = []
    for check in shipped.checks:
        kept = own.check_by_id.get(check.id)
        if kept is not None:
            found += _list_changes(check, kept)
        elif check.severity == "critical":
            text = (f"The check “{check.ask['en']}” is left out. It is critical: what it finds can hurt someone, "
                    "and with this checklist nobody looks for it.")
            found.append(Notice(f"checks.{check.id}", text, True))
    return found


def find_lost_cautions(shipped: Checklist, own: Checklist) -> list[tuple[str, str]]:
    """(key, the shipped caution) of each check that had one and has none now."""
    pairs = [(check, own.check_by_id.get(check.id)) for check in shipped.checks]
    return [(f"checks.{check.id}.caution", check.caution["en"]) for check, kept in pairs if kept and check.caution and not kept.caution]


def _list_changes(check: Check, kept: Check) -> Iterator[Notice]:
    is_critical, asked = check.severity == "critical", kept.ask["en"]
    key = f"checks.{check.id}"
    if is_critical and kept.severity != "critical":
        yield Notice(f"{key}.severity", f"“{asked}” is no longer critical. What it finds can hurt someone all the same.", True)
    if kept.when != check.when:
        yield Notice(f"{key}.when", f"“{asked}” is asked under other conditions than in the shipped checklist.", is_critical)
    if kept.kind != check.kind:
        yield Notice(key, f"“{asked}” is answered in another way than in the shipped checklist ({kept.kind}, not {check.kind}).", is_critical)
    elif check.kind == "choice":
        yield from _list_milder_options(key, check, kept)
    elif hasattr(check, "limits"):
        yield from _list_moved_limits(key, check, kept)


def _list_milder_options(key: str, check: Check, kept: Check) -> Iterator[Notice]:
    verdicts = {option.id: option.verdict for option in check.options}
    for option in kept.options:
        if option.verdict == "pass" and verdicts.get(option.id) == "fail":
            text = f"“{kept.ask['en']}”: the answer “{option.title['en']}” passes now; in the shipped checklist it is a fault."
            yield Notice(f"{key}.choice.options.{option.id}", text, check.severity == "critical")


def _list_moved_limits(key: str, check: Check, kept: Check) -> Iterator[Notice]:
    is_critical, block = check.severity == "critical", f"{key}.{kept.kind}"
    sizes = [size for size in kept.limits if size in check.limits]
    for size in sizes:
        for side, sign in SIDES.items():
            if _is_outside(getattr(kept.limits[size], side), getattr(check.limits[size], side), sign):
                yield Notice(f"{block}.limits.{size}.{side}", _say_moved(check, kept, size, side), is_critical)
    is_less_guarded = kept.decision == "simple" and check.decision == "guarded"
    if is_less_guarded or any(_guard(kept.limits[size]) < _guard(check.limits[size]) for size in sizes):
        text = f"“{kept.ask['en']}”: readings too close to the limit for the tool are held against it less strictly than in the shipped checklist."
        yield Notice(f"{block}.{'decision' if is_less_guarded else 'uncertainty'}", text, is_critical)
    if kept.basis == check.basis and any(kept.limits[size] != check.limits[size] for size in sizes):
        text = f"“{kept.ask['en']}”: a limit is changed, but the source is still given as “{kept.basis}”. Say where the new limit comes from."
        yield Notice(f"{key}.basis", text, False)


def _is_outside(own: float | None, shipped: float | None, sign: int) -> bool:
    """Whether more passes than before: the limit is gone, or moved away from the middle."""
    return shipped is not None and (own is None or (own - shipped) * sign > 0)


def _guard(limits: Limits) -> float:
    """How far the limits are drawn in, in the check's unit; rounded, because the difference of two floats is not exact."""
    pairs = ((limits.lower, limits.accept_lower), (limits.upper, limits.accept_upper))
    return round(max((abs(limit - drawn) for limit, drawn in pairs if limit is not None), default=0), 6)


def _say_moved(check: Check, kept: Check, size: str, side: str) -> str:
    own, shipped, unit = getattr(kept.limits[size], side), getattr(check.limits[size], side), kept.unit
    if own is None:
        return f"“{kept.ask['en']}”, size {size}: there is no {side} limit any more; the shipped one is {shipped:g} {unit}."
    return f"“{kept.ask['en']}”, size {size}: the {side} limit {own:g} {unit} is outside the shipped one, which is {shipped:g} {unit}."
