"""What differs between a summary and the one it replaces, in plain words."""

from collections.abc import Callable, Mapping

NAMES = {"accept": "accept", "reject": "reject", "not_ready": "not ready"}
COUNTS = {
    "offered": "stoves offered", "inspected": "stoves inspected", "first_pass_good": "good at first pass",
    "released": "released", "released_after_rework": "released after rework", "rework": "waiting for rework",
    "concession": "released by concession", "scrap": "scrapped", "hold": "held",
}
# What every new version differs in, and what is said in words of its own below.
EXPECTED = {"number", "issued_at", "issued_by", "replaces", "changes", "rests_on"}


def list_changes(before: Mapping, after: Mapping) -> list[dict]:
    """[{"what", "before", "after"}]; empty when nothing that the summary shows has changed."""
    told = [
        {"what": what, "before": old, "after": new}
        for what, tell in _list_tellers()
        if (old := tell(before)) != (new := tell(after))
    ]
    if not told and any(before.get(key) != after[key] for key in after if key not in EXPECTED):
        return [{"what": "details of faults, measured values, reasons or texts", "before": "as issued", "after": "see below"}]
    return told


def _list_tellers() -> list[tuple[str, Callable[[Mapping], str]]]:
    counts = [(what, lambda document, key=key: str(document["counts"][key])) for key, what in COUNTS.items()]
    faults = [
        (f"stoves with a {severity} fault at first pass", lambda document, severity=severity: _tell_severity(document, severity))
        for severity in ("critical", "major", "minor")
    ]
    return [
        ("decision", lambda document: NAMES[document["decision"]["final"]]),
        ("overruled", _tell_overruling),
        ("plan", _tell_plan),
        ("checklist", lambda document: f"{document['checklist']['id']} revision {document['checklist']['revision']}"),
        ("batch closed", lambda document: document["batch"]["closed_at"] or "still open"),
        *counts,
        *faults,
        ("buyer's re-check", _tell_recheck),
    ]


def _tell_overruling(document: Mapping) -> str:
    overruled = document["decision"]["overruled"]
    return f"by {overruled['by']}: {overruled['reason']}" if overruled else "no"


def _tell_plan(document: Mapping) -> str:
    plan = document["plan"]
    if plan["inspect"] == "every":
        return f"every one of {plan['lot']} stoves"
    aqls = ", ".join(f"{limit['severity']} {limit['aql']} %" for limit in plan["limits"] if limit["aql"])
    return f"sample of {len(plan['sample'])} of {plan['lot']} stoves, {plan['stage']}, {aqls}, seed {plan['seed']}"


def _tell_severity(document: Mapping, severity: str) -> str:
    found = next(look for look in document["severities"] if look["severity"] == severity)
    return f"{found['failed']} of {found['of']}"


def _tell_recheck(document: Mapping) -> str:
    recheck = document["recheck"]
    return f"{recheck['failed']} of {recheck['n']} not as agreed" if recheck else "none"
