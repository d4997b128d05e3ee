"""One record in words: what a person reads before deciding about it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import COLON, SEMICOLON, join
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.sizes import name_size
from qcapp.inspection.terms import DISPOSITIONS, MARKS, VERDICTS
from qcapp.reports.faults import name_fault
from qcapp.web.layout.fault_cards import FaultCard, Surroundings, list_cards, name_person
from qcapp.web.layout.labels import STAGES
from qcapp.web.layout.template_filters import as_localized, as_minute, as_translated, as_unit

KINDS = {
    "inspection": phrase("Inspection"),
    "correction": phrase("Correction"),
    "void": phrase("Void"),
    "first_piece": phrase("First piece"),
    "gauge_check": phrase("Check of a template or gauge"),
}


@dataclass(frozen=True)
class RecordView:
    """facts: (label, text); cards: its faults; answers: (what was asked, what was given, verdict);
    photos: (name, is it here) of those that no card shows.
    """

    facts: tuple[tuple[str, str], ...]
    cards: tuple[FaultCard, ...]
    answers: tuple[tuple[str, str, str], ...]
    photos: tuple[tuple[str, bool], ...]


def describe_record(
    content: Mapping[str, Any],
    checklist: Checklist | None,
    names: Mapping[str, str],
    photos: Sequence[tuple[str, bool]],
    drawings: Mapping[str, str],
) -> RecordView:
    """content: a well-formed event; names: people by code; without the checklist its ids stand
    alone.
    """
    seen = content["body"].get("replacement", content["body"])
    facts = [
        *_list_head_facts(content, names),
        *_list_own_facts(content, checklist, names),
        *_list_stove_facts(seen, checklist, names),
    ]
    cards = _list_cards(seen, checklist, names, photos, drawings)
    shown = {name for card in cards for name, _is_here in card.photos}
    return RecordView(
        tuple(facts),
        cards,
        tuple(_list_answers(seen, checklist)),
        tuple(photo for photo in photos if photo[0] not in shown),
    )


def _list_head_facts(content: Mapping[str, Any], names: Mapping[str, str]) -> list[tuple[str, str]]:
    """What every record says of itself."""
    stage = STAGES.get(content["stage"], content["stage"]) or phrase("no stage")
    return [
        (phrase("Kind"), KINDS.get(content["kind"], content["kind"])),
        (
            phrase("Stove"),
            phrase("%(stove)s (%(stage)s)", stove=content["stove"] or "–", stage=stage),
        ),
        (phrase("Batch"), content["batch"] or "–"),
        (phrase("Inspector"), name_person(names, content["inspector"])),
        (
            phrase("Recorded"),
            phrase("%(minute)s by the phone's clock", minute=as_minute(content["captured_at"])),
        ),
        (phrase("Checklist"), content["checklist"] or "–"),
    ]


def _list_own_facts(
    content: Mapping[str, Any], checklist: Checklist | None, names: Mapping[str, str]
) -> list[tuple[str, str]]:
    """What only records of one kind say."""
    body = content["body"]
    if content["kind"] == "first_piece":
        made_by = _crew({body["step"]: body["maker"]}, checklist, names)
        return [(phrase("Size"), name_size(body["size"])), (phrase("Made by"), made_by)]
    if content["kind"] == "gauge_check":
        return [(phrase("Value read"), body["value"])]
    if content["kind"] in ("correction", "void"):
        return [(phrase("Reason given"), body["reason"])]
    return []


def _list_stove_facts(
    seen: Mapping[str, Any], checklist: Checklist | None, names: Mapping[str, str]
) -> list[tuple[str, str]]:
    """Who made a stove, from what, and what became of it. seen: as inspected, or as corrected."""
    facts: list[tuple[str, str]] = []
    if "crew" in seen:
        facts += [
            (phrase("Size"), name_size(seen["size"])),
            (phrase("Made by"), _crew(seen["crew"], checklist, names)),
        ]
        facts += [
            (STAGES.get(piece, piece), serial)
            for piece, serial in (seen.get("made_from") or {}).items()
        ]
        facts.append((phrase("What happened to it"), _dispose(seen["disposition"])))
    if seen.get("reworked_by"):
        repaired = _list_rework(seen["reworked_by"], checklist, names)
        facts.append((phrase("Repaired by"), repaired))
    return facts


def _list_cards(
    seen: Mapping[str, Any],
    checklist: Checklist | None,
    names: Mapping[str, str],
    photos: Sequence[tuple[str, bool]],
    drawings: Mapping[str, str],
) -> tuple[FaultCard, ...]:
    if checklist is None:
        return ()
    around = Surroundings(checklist, drawings, dict(photos), partial(name_person, names))
    return list_cards(seen, around)


def _tell_given(check: Check | None, answer: Mapping[str, Any]) -> str:
    """How an answer was given, where that says how much it is worth."""
    if check and check.lasts_seconds and answer.get("mark") == "pass":
        shown = phrase(
            "clock: %(seconds)s of %(lasts)s seconds",
            seconds=answer.get("timed_s", 0),
            lasts=check.lasts_seconds,
        )
        return as_translated(shown)
    if (answer.get("holes") or {}).get("is_taken"):
        return as_translated(_tell_photo(check, answer["holes"]))
    is_group = answer.get("given") == "group"
    return as_translated(phrase("passed with the rest of its part")) if is_group else ""


def _tell_photo(check: Check | None, holes: Mapping[str, Any]) -> Phrase:
    unit = getattr(check, "unit", "")
    if not holes.get("uncertainty"):
        return phrase("as a photo proposed it")
    return phrase(
        "as a photo proposed it, ± %(uncertainty)s %(unit)s",
        uncertainty=holes["uncertainty"],
        unit=unit,
    )


def _list_rework(
    reworked_by: Mapping[str, str], checklist: Checklist | None, names: Mapping[str, str]
) -> str:
    checks = checklist.check_by_id if checklist else {}
    told = [
        join(
            COLON,
            (
                as_localized(checks[check].ask) if check in checks else check,
                name_person(names, code),
            ),
        )
        for check, code in reworked_by.items()
    ]
    return as_translated(join(SEMICOLON, told))


def _dispose(chosen: Mapping[str, str]) -> Phrase:
    kind = DISPOSITIONS.get(chosen["kind"], chosen["kind"])
    return (
        phrase("%(kind)s: %(reason)s", kind=kind, reason=chosen["reason"])
        if chosen.get("reason")
        else phrase("%(kind)s", kind=kind)
    )


def _crew(crew: Mapping[str, str], checklist: Checklist | None, names: Mapping[str, str]) -> str:
    steps_here = checklist.step_by_id if checklist else {}
    by_artisan: dict[str, list[str]] = {}
    for step, artisan in crew.items():
        by_artisan.setdefault(artisan, []).append(
            as_localized(steps_here[step].title) if step in steps_here else step
        )
    told = [
        join(COLON, (name_person(names, code), ", ".join(steps)))
        for code, steps in by_artisan.items()
    ]
    return as_translated(join(SEMICOLON, told)) or phrase("not assigned")


def _list_answers(
    seen: Mapping[str, Any], checklist: Checklist | None
) -> Iterator[tuple[str, str, str]]:
    checks = checklist.check_by_id if checklist else {}
    verdicts = seen.get("verdicts", {})
    for check_id, answer in seen.get("answers", {}).items():
        check = checks.get(check_id)
        unit = getattr(check, "unit", None)
        values = ", ".join(answer.get("values") or ()) + (
            f" {as_unit(unit)}" if unit and answer.get("values") else ""
        )
        mark = answer.get("mark")
        faults = [answer.get("fault"), *(answer.get("more_faults") or ())]
        given = [
            get_active_locale().translate(MARKS[mark]) if mark in MARKS else mark,
            _tell_given(check, answer),
            values,
            answer.get("option"),
            *(as_translated(name_fault(check, fault)) for fault in faults if fault),
            answer.get("note"),
        ]
        text = as_translated(join(SEMICOLON, filter(None, given))) or "–"
        verdict = verdicts.get(check_id, "–")
        yield as_localized(check.ask) if check else check_id, text, VERDICTS.get(verdict, verdict)
