"""One record in words: what a person reads before deciding about it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.model import Checklist

KINDS = {"inspection": "Inspection", "correction": "Correction", "void": "Withdrawal"}


@dataclass(frozen=True)
class RecordView:
    """facts: (label, text); answers: (what was asked, what was given, verdict); photos: (name, is it here)."""

    facts: tuple[tuple[str, str], ...]
    answers: tuple[tuple[str, str, str], ...]
    photos: tuple[tuple[str, bool], ...]


def describe_record(
    content: Mapping[str, Any], checklist: Checklist | None, names: Mapping[str, str], photos: Sequence[tuple[str, bool]]
) -> RecordView:
    """content: a well-formed event; names: people by code; without the checklist its ids stand alone."""
    body = content["body"]
    seen = body.get("replacement", body)
    facts = [
        ("Kind", KINDS.get(content["kind"], content["kind"])),
        ("Stove", f"{content['stove'] or '–'} ({content['stage'] or 'no stage'})"),
        ("Batch", content["batch"] or "–"),
        ("Inspector", _name(content["inspector"], names)),
        ("Recorded", f"{content['captured_at'][:10]} {content['captured_at'][11:16]} UTC by the phone's clock"),
        ("Checklist", content["checklist"] or "–"),
    ]
    if content["kind"] in ("correction", "void"):
        facts.append(("Reason given", body["reason"]))
    if "crew" in seen:
        facts += [("Size", seen["size"]), ("Made by", _crew(seen["crew"], checklist, names))]
        chosen = seen["disposition"]
        facts.append(("What became of it", chosen["kind"] + (f": {chosen['reason']}" if chosen.get("reason") else "")))
    return RecordView(tuple(facts), tuple(_list_answers(seen, checklist)), tuple(photos))


def _crew(crew: Mapping[str, str], checklist: Checklist | None, names: Mapping[str, str]) -> str:
    steps_here = checklist.step_by_id if checklist else {}
    by_artisan: dict[str, list[str]] = {}
    for step, artisan in crew.items():
        by_artisan.setdefault(artisan, []).append(steps_here[step].title["en"] if step in steps_here else step)
    return "; ".join(f"{_name(code, names)}: {', '.join(steps)}" for code, steps in by_artisan.items()) or "not assigned"


def _list_answers(seen: Mapping[str, Any], checklist: Checklist | None):
    checks = checklist.check_by_id if checklist else {}
    verdicts = seen.get("verdicts", {})
    for check_id, answer in seen.get("answers", {}).items():
        check = checks.get(check_id)
        unit = getattr(check, "unit", None)
        values = ", ".join(answer.get("values") or ()) + (f" {unit}" if unit and answer.get("values") else "")
        given = [answer.get("mark"), values, answer.get("option"), answer.get("fault"), answer.get("note")]
        text = "; ".join(part for part in given if part) or "–"
        yield check.ask["en"] if check else check_id, text, verdicts.get(check_id, "–").replace("_", " ")


def _name(code: str, names: Mapping[str, str]) -> str:
    return f"{names[code]} ({code})" if code in names else f"{code} (not known here)"
