"""The faults of one record as cards: where, what, how far off, photos, maker, what to do.

The phone shows the same: static/phone/js/screens/fault_card.js.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from qcapp.charts.drawing import place_fault
from qcapp.checklist.base_check import Limits, NumberCheck
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.documents.sheet_words import describe_limits
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import Figure, join, text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.units import UNITS, name_unit
from qcapp.inspection.counts import find_fault
from qcapp.inspection.judge import Judgement, counts_as_fail, judge_answers
from qcapp.reports.faults import name_fault
from qcapp.web.layout.fault_pictures import draw_fault

# Of a value: what typed decimals differ by is a hair off in binary.
DIGITS = ".4g"


@dataclass(frozen=True)
class FaultCard:
    """check: its id; drawing: SVG with the part lit and the fault's place marked, or empty;
    pictures: SVG of what its faults look like; value, limits and excess: empty where nothing was
    measured; photos: (name, is it here).
    """

    check: str
    drawing: str
    part: str
    pictures: tuple[str, ...]
    faults: str
    ask: str
    severity: str
    value: str
    limits: str
    excess: str
    note: str
    maker: str
    todo: str
    photos: tuple[tuple[str, bool], ...]


@dataclass(frozen=True)
class Surroundings:
    """What a card needs beside the record. drawings: SVG text by file name, none for a card without
    pictures; here: photos that have arrived; name: words for a person's code.
    """

    checklist: Checklist
    drawings: Mapping[str, str]
    here: Mapping[str, bool]
    name: Callable[[str], str]


def list_cards(seen: Mapping[str, Any], around: Surroundings) -> tuple[FaultCard, ...]:
    """seen: the body of an inspection; a blind look has no size and no cards."""
    if "size" not in seen:
        return ()
    context = {"size": seen["size"], "batch": seen["batch_attributes"]}
    judged = judge_answers(around.checklist, seen["answers"], context)
    return tuple(
        _build_card(check, judged[check.id], seen, around)
        for check in around.checklist.checks
        if counts_as_fail(check, judged[check.id].verdict)
    )


def _build_card(
    check: Check, judgement: Judgement, seen: Mapping[str, Any], around: Surroundings
) -> FaultCard:
    answer = seen["answers"].get(check.id, {})
    parts = {part.id: text_of(part.title) for part in around.checklist.parts}
    step = around.checklist.step_by_id[check.step]
    code = seen["crew"].get(check.step)
    limits = _describe_limits(check, seen["size"])
    faults = _list_faults(check, answer, judgement)
    pictures = (draw_fault(check, fault, around.drawings) for fault in faults)
    return FaultCard(
        check=check.id,
        drawing=_draw(check, answer, around),
        part=parts[check.part],
        pictures=tuple(picture for picture in pictures if picture),
        faults=join(" · ", (name_fault(check, fault) for fault in faults)),
        ask=text_of(check.ask),
        severity=check.severity,
        value=_describe_value(check, answer, judgement),
        limits=limits,
        excess=_describe_excess(check, judgement, seen["size"]),
        note=answer.get("note", ""),
        maker=phrase(
            "%(step)s: %(maker)s",
            step=text_of(step.title),
            maker=around.name(code) if code else phrase("not assigned"),
        ),
        todo=phrase("Bring it to %(limits)s", limits=limits)
        if limits
        else phrase("Repair until: %(ask)s", ask=text_of(check.ask)),
        photos=tuple((name, around.here.get(name, False)) for name in answer.get("photos") or ()),
    )


def _draw(check: Check, answer: Mapping[str, Any], around: Surroundings) -> str:
    drawing = around.drawings.get(around.checklist.drawing)
    if drawing is None:
        return ""
    place = answer.get("place")
    return place_fault(drawing, check.part, (place[0], place[1]) if place else None)


def _list_faults(check: Check, answer: Mapping[str, Any], judgement: Judgement) -> list[str | None]:
    return [find_fault(check, answer, judgement), *(answer.get("more_faults") or ())]


def _describe_limits(check: Check, size: str) -> str:
    told = describe_limits(check.model_dump(mode="json"), [size])
    return told[0]["text"] if told else ""


def _describe_value(check: Check, answer: Mapping[str, Any], judgement: Judgement) -> str:
    if not isinstance(check, NumberCheck):
        return ""
    texts = answer.get("values") or (
        [] if judgement.value is None else [format(judgement.value, DIGITS)]
    )
    return join(" ", (join(" · ", map(Figure, texts)), name_unit(check.unit))) if texts else ""


def _describe_excess(check: Check, judgement: Judgement, size: str) -> str | Phrase:
    if not isinstance(check, NumberCheck):
        return ""
    limits = check.limits_for(size)
    excess = limits and _find_excess(limits, judgement)
    if not excess:
        return ""
    if check.unit in UNITS:  # counted, in the plural: "1 holes" is nothing one says
        counted = Figure(format(abs(excess), DIGITS))
        if excess > 0:
            return phrase("%(excess)s too many", excess=counted)
        return phrase("%(excess)s too few", excess=counted)
    params = {"excess": Figure(format(abs(excess), DIGITS)), "unit": name_unit(check.unit)}
    if excess > 0:
        return phrase("%(excess)s %(unit)s too much", **params)
    return phrase("%(excess)s %(unit)s too little", **params)


def _find_excess(limits: Limits, judgement: Judgement) -> float | None:
    """How far beyond its limit, below zero on the lower side; None where it is beyond none."""
    limit = {"below-lower": limits.lower, "above-upper": limits.upper}.get(judgement.reason)
    return None if limit is None or judgement.value is None else judgement.value - limit


def name_person(names: Mapping[str, str], code: str) -> str:
    return (
        f"{names[code]} ({code})"
        if code in names
        else get_active_locale().translate(phrase("%(code)s (not known here)", code=code))
    )
