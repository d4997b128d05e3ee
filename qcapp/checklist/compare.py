"""A checklist beside the one it is measured by: what a person must be told before it is used.
Nothing is forbidden here but to leave a caution out.

It is measured by the shipped one, or by the yard's own where a phone brought it along.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from qcapp.checklist.base_check import Limits, NumberCheck
from qcapp.checklist.check_kinds import Check, ChoiceCheck
from qcapp.checklist.model import Checklist
from qcapp.i18n.localized_text import Figure, Text, text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.sizes import name_size
from qcapp.i18n.units import name_unit

# Which way a limit of that side lets more pass.
SIDES = {"lower": -1, "upper": 1}


SHIPPED = phrase("the shipped checklist")
YARDS_OWN = phrase("the yard's own checklist")


@dataclass(frozen=True)
class Notice:
    """key: the place in the YAML, as in errors; is_safety: it concerns a check that can keep
    somebody from being hurt.
    """

    key: str
    text: str
    is_safety: bool


def list_warnings(standard: Checklist, own: Checklist, called: Phrase = SHIPPED) -> list[Notice]:
    """In the standard's order: critical checks left out or made weaker, limits moved outwards,
    sources that no longer fit. called: what the standard is, as sentences say it.
    """
    found: list[Notice] = []
    for check in standard.checks:
        kept = own.check_by_id.get(check.id)
        if kept is not None:
            found += _list_changes(check, kept, called)
        elif check.severity == "critical":
            text = phrase(
                "The check “%(check)s” is left out. It is critical: what it finds can hurt "
                "someone, and nobody looks for it with this checklist.",
                check=text_of(check.ask),
            )
            found.append(Notice(f"checks.{check.id}", text, True))
    return found


def find_lost_cautions(shipped: Checklist, own: Checklist) -> list[tuple[str, Text]]:
    """(key, the shipped caution) of each check that had one and has none now."""
    pairs = [(check, own.check_by_id.get(check.id)) for check in shipped.checks]
    return [
        (f"checks.{check.id}.caution", text_of(check.caution))
        for check, kept in pairs
        if kept and check.caution and not kept.caution
    ]


def _list_changes(check: Check, kept: Check, called: Phrase) -> Iterator[Notice]:
    is_critical, asked = check.severity == "critical", text_of(kept.ask)
    key = f"checks.{check.id}"
    if is_critical and kept.severity != "critical":
        text = phrase(
            "“%(check)s” is no longer critical. What it finds can hurt someone all the same.",
            check=asked,
        )
        yield Notice(f"{key}.severity", text, True)
    yield from _list_easier_ways(key, check, kept, called)
    if kept.when != check.when:
        text = phrase(
            "“%(check)s” is asked under other conditions; %(standard)s differs.",
            check=asked,
            standard=called,
        )
        yield Notice(f"{key}.when", text, is_critical)
    if kept.kind != check.kind:
        text = phrase(
            "“%(check)s” is answered as %(own)s; %(standard)s has %(given)s.",
            check=asked,
            own=kept.label,
            standard=called,
            given=check.label,
        )
        yield Notice(key, text, is_critical)
    elif isinstance(check, ChoiceCheck) and isinstance(kept, ChoiceCheck):
        yield from _list_milder_options(key, check, kept, called)
    elif isinstance(check, NumberCheck) and isinstance(kept, NumberCheck):
        block = f"{key}.{kept.kind}"
        yield from _list_moved_limits(block, check, kept, called)
        yield from _list_weaker_guard(block, check, kept, called)
        yield from _list_stale_source(key, check, kept)


def _list_easier_ways(key: str, check: Check, kept: Check, called: Phrase) -> Iterator[Notice]:
    asked, is_critical = text_of(kept.ask), check.severity == "critical"
    if kept.may_not_apply and not check.may_not_apply:
        text = phrase("“%(check)s” may be said not to apply to a stove.", check=asked)
        yield Notice(f"{key}.may_not_apply", text, is_critical)
    if check.lasts_seconds and (kept.lasts_seconds or 0) < check.lasts_seconds:
        text = phrase(
            "“%(check)s” takes less time than %(standard)s asks for.", check=asked, standard=called
        )
        yield Notice(f"{key}.lasts_seconds", text, is_critical)
    if set(check.after or ()) - set(kept.after or ()):
        text = phrase("“%(check)s” no longer waits for a check that makes it safe.", check=asked)
        yield Notice(f"{key}.after", text, True)


def _list_milder_options(
    key: str, check: ChoiceCheck, kept: ChoiceCheck, called: Phrase
) -> Iterator[Notice]:
    verdicts = {option.id: option.verdict for option in check.options}
    for option in kept.options:
        if option.verdict == "pass" and verdicts.get(option.id) == "fail":
            text = phrase(
                "“%(check)s”: the answer “%(answer)s” passes; %(standard)s calls it a fault.",
                check=text_of(kept.ask),
                standard=called,
                answer=text_of(option.title),
            )
            yield Notice(f"{key}.choice.options.{option.id}", text, check.severity == "critical")


def _list_moved_limits(
    block: str, check: NumberCheck, kept: NumberCheck, called: Phrase
) -> Iterator[Notice]:
    for size in _list_shared_sizes(check, kept):
        own, given = kept.limits[size], check.limits[size]
        for side, outwards in SIDES.items():
            if _is_outside(getattr(own, side), getattr(given, side), outwards):
                text = _describe_moved(check, kept, size, side, called)
                is_critical = check.severity == "critical"
                yield Notice(f"{block}.limits.{size}.{side}", text, is_critical)


def _list_weaker_guard(
    block: str, check: NumberCheck, kept: NumberCheck, called: Phrase
) -> Iterator[Notice]:
    is_unguarded = kept.decision == "simple" and check.decision == "guarded"
    if is_unguarded or any(
        _guard(kept.limits[size]) < _guard(check.limits[size])
        for size in _list_shared_sizes(check, kept)
    ):
        text = phrase(
            "“%(check)s”: readings too close to the limit for the tool are judged less strictly "
            "than %(standard)s judges them.",
            check=text_of(kept.ask),
            standard=called,
        )
        word = "decision" if is_unguarded else "uncertainty"
        yield Notice(f"{block}.{word}", text, check.severity == "critical")


def _list_stale_source(key: str, check: NumberCheck, kept: NumberCheck) -> Iterator[Notice]:
    sizes = _list_shared_sizes(check, kept)
    if kept.basis == check.basis and any(kept.limits[size] != check.limits[size] for size in sizes):
        text = phrase(
            "“%(check)s”: a limit is changed, but the source is still given as “%(source)s”. Say "
            "where the new limit comes from.",
            check=text_of(kept.ask),
            source=kept.basis,
        )
        yield Notice(f"{key}.basis", text, False)


def _list_shared_sizes(check: NumberCheck, kept: NumberCheck) -> list[str]:
    return [size for size in kept.limits if size in check.limits]


def _is_outside(own: float | None, given: float | None, outwards: int) -> bool:
    """Whether more passes than before: the limit is gone, or moved away from the middle."""
    return given is not None and (own is None or (own - given) * outwards > 0)


def _guard(limits: Limits) -> float:
    """How far the limits are drawn in, in the check's unit; rounded, because the difference of two
    floats is not exact.
    """
    pairs = ((limits.lower, limits.accept_lower), (limits.upper, limits.accept_upper))
    return round(
        max(
            (
                abs(limit - drawn)
                for limit, drawn in pairs
                if limit is not None and drawn is not None
            ),
            default=0,
        ),
        6,
    )


def _describe_moved(
    check: NumberCheck, kept: NumberCheck, size: str, side: str, called: Phrase
) -> Phrase:
    own, given = getattr(kept.limits[size], side), getattr(check.limits[size], side)
    words = {
        "check": text_of(kept.ask),
        "size": name_size(size),
        "given": Figure(f"{given:g}"),
        "unit": name_unit(kept.unit),
        "standard": called,
    }
    if own is None and side == "lower":
        return phrase(
            "“%(check)s”, size %(size)s: there is no lower limit any more; %(standard)s has "
            "%(given)s %(unit)s.",
            **words,
        )
    if own is None:
        return phrase(
            "“%(check)s”, size %(size)s: there is no upper limit any more; %(standard)s has "
            "%(given)s %(unit)s.",
            **words,
        )
    words["own"] = Figure(f"{own:g}")
    if side == "lower":
        return phrase(
            "“%(check)s”, size %(size)s: the lower limit is %(own)s %(unit)s and lets more pass; "
            "%(standard)s has %(given)s %(unit)s.",
            **words,
        )
    return phrase(
        "“%(check)s”, size %(size)s: the upper limit is %(own)s %(unit)s and lets more pass; "
        "%(standard)s has %(given)s %(unit)s.",
        **words,
    )
