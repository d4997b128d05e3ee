"""What differs between a summary and the one it replaces."""

from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import Any

from qcapp.i18n.messages import Message
from qcapp.reports import summary_messages as say

# What is said of one side: a sentence, or a count.
Told = dict[str, Any] | int
Document = Mapping[str, Any]
# What every new version differs in, and what is said in words of its own below.
EXPECTED = {"number", "issued_at", "issued_by", "replaces", "changes", "rests_on"}


def list_changes(before: Document, after: Document) -> list[dict[str, Any]]:
    """[{"what", "before", "after"}]; empty when nothing that the summary shows has changed."""
    told = [
        {"what": what.to_json(), "before": old, "after": new}
        for what, tell in _list_tellers()
        if (old := tell(before)) != (new := tell(after))
    ]
    if not told and any(before.get(key) != after[key] for key in after if key not in EXPECTED):
        sides = {"before": say.AS_ISSUED().to_json(), "after": say.SEE_BELOW().to_json()}
        return [{"what": say.CHANGED_DETAILS().to_json(), **sides}]
    return told


def _list_tellers() -> Iterator[tuple[Message, Callable[[Document], Told]]]:
    yield say.CHANGED_DECISION(), _tell_decision
    yield say.CHANGED_OVERRULING(), _tell_overruling
    yield say.CHANGED_ORDER(), _tell_order
    yield say.CHANGED_SIGNATORY(), _tell_signatory
    yield say.CHANGED_PLAN(), _tell_plan
    yield say.CHANGED_CHECKLIST(), _tell_checklist
    yield say.CHANGED_CLOSING(), _tell_closing
    for key, what in say.CHANGED_COUNTS.items():
        yield what(), partial(_tell_count, key=key)
    for severity, what in say.CHANGED_FAULTS.items():
        yield what(), partial(_tell_severity, severity=severity)
    yield say.CHANGED_RECHECK(), _tell_recheck


def _tell_decision(document: Document) -> Told:
    return say.DECISION[document["decision"]["final"]]().to_json()


def _tell_overruling(document: Document) -> Told:
    overruled = document["decision"]["overruled"]
    if not overruled:
        return say.NOT_OVERRULED().to_json()
    return say.OVERRULED_BY(by=overruled["by"], reason=overruled["reason"]).to_json()


def _tell_order(document: Document) -> Told:
    """A summary from before orders were noted has none."""
    order = document.get("order", {})
    said = {key: order.get(key) or "–" for key in ("number", "contract", "ordered")}
    if set(said.values()) == {"–"}:
        return say.NOT_GIVEN().to_json()
    return say.ORDER(**said).to_json()


def _tell_signatory(document: Document) -> Told:
    signatory = document.get("signatory")
    return (say.SIGNATORY(**signatory) if signatory else say.NOT_GIVEN()).to_json()


def _tell_plan(document: Document) -> Told:
    plan = document["plan"]
    if plan["inspect"] == "every":
        return say.PLAN_EVERY(lot=plan["lot"]).to_json()
    aqls = [
        say.PLAN_AQL(severity=limit["severity"], aql=limit["aql"])
        for limit in plan["limits"]
        if limit["aql"]
    ]
    drawn, lot, regime, seed = len(plan["sample"]), plan["lot"], plan["regime"], plan["seed"]
    return say.PLAN_SAMPLE(drawn=drawn, lot=lot, regime=regime, aqls=aqls, seed=seed).to_json()


def _tell_checklist(document: Document) -> Told:
    checklist = document["checklist"]
    return say.REVISION(id=checklist["id"], revision=checklist["revision"]).to_json()


def _tell_closing(document: Document) -> Told:
    closed_at = document["batch"]["closed_at"]
    return (say.CLOSED_AT(moment=closed_at) if closed_at else say.STILL_OPEN()).to_json()


def _tell_count(document: Document, key: str) -> Told:
    return int(document["counts"][key])


def _tell_severity(document: Document, severity: str) -> Told:
    found = next(look for look in document["severities"] if look["severity"] == severity)
    return say.FAILED_OF(failed=found["failed"], of=found["of"]).to_json()


def _tell_recheck(document: Document) -> Told:
    recheck = document["recheck"]
    if not recheck:
        return say.NO_RECHECK().to_json()
    return say.RECHECK_FAILED(failed=recheck["failed"], of=recheck["n"]).to_json()
