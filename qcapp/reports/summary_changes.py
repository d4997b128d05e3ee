"""What differs between a summary and the one it replaces, in plain words."""

from collections.abc import Callable, Mapping

from qcapp.i18n.localized_text import Figure, join
from qcapp.i18n.phrase import phrase
from qcapp.reports.terms import SEVERITIES, STAGES

NAMES = {"accept": phrase("accept"), "reject": phrase("reject"), "not_ready": phrase("not ready")}
COUNTS = {
    "offered": phrase("stoves offered"),
    "inspected": phrase("stoves inspected"),
    "first_pass_good": phrase("good at first pass"),
    "released": phrase("released"),
    "released_after_rework": phrase("released after rework"),
    "rework": phrase("waiting for rework"),
    "concession": phrase("released by concession"),
    "scrap": phrase("scrapped"),
    "hold": phrase("held"),
}
FAULTS = {
    "critical": phrase("stoves with a critical fault at first pass"),
    "major": phrase("stoves with a major fault at first pass"),
    "minor": phrase("stoves with a minor fault at first pass"),
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
        what = phrase("details of faults, measured values, reasons or texts")
        return [{"what": what, "before": phrase("as issued"), "after": phrase("see below")}]
    return told


def _list_tellers() -> list[tuple[str, Callable[[Mapping], str]]]:
    counts = [
        (what, lambda document, key=key: str(document["counts"][key]))
        for key, what in COUNTS.items()
    ]
    faults = [
        (what, lambda document, severity=severity: _tell_severity(document, severity))
        for severity, what in FAULTS.items()
    ]
    return [
        (phrase("decision"), lambda document: NAMES[document["decision"]["final"]]),
        (phrase("overruled"), _tell_overruling),
        (phrase("plan"), _tell_plan),
        (phrase("checklist"), _print_checklist),
        (
            phrase("batch closed"),
            lambda document: document["batch"]["closed_at"] or phrase("still open"),
        ),
        *counts,
        *faults,
        (phrase("buyer's re-check"), _tell_recheck),
    ]


def _print_checklist(document: Mapping) -> str:
    return phrase(
        "%(id)s revision %(revision)s",
        id=document["checklist"]["id"],
        revision=document["checklist"]["revision"],
    )


def _tell_overruling(document: Mapping) -> str:
    overruled = document["decision"]["overruled"]
    return (
        phrase("by %(by)s: %(reason)s", by=overruled["by"], reason=overruled["reason"])
        if overruled
        else phrase("no")
    )


def _tell_plan(document: Mapping) -> str:
    plan = document["plan"]
    if plan["inspect"] == "every":
        return phrase("every one of %(lot)s stoves", lot=plan["lot"])
    agreed = [limit for limit in plan["limits"] if limit["aql"]]
    aqls = join(
        ", ",
        (
            phrase(
                "%(severity)s %(aql)s %%",
                severity=SEVERITIES[limit["severity"]],
                aql=Figure(limit["aql"]),
            )
            for limit in agreed
        ),
    )
    return phrase(
        "sample of %(drawn)s of %(lot)s stoves, %(stage)s, %(aqls)s, seed %(seed)s",
        drawn=len(plan["sample"]),
        lot=plan["lot"],
        stage=STAGES[plan["stage"]],
        aqls=aqls,
        seed=plan["seed"],
    )


def _tell_severity(document: Mapping, severity: str) -> str:
    found = next(look for look in document["severities"] if look["severity"] == severity)
    return phrase("%(failed)s of %(of)s", failed=found["failed"], of=found["of"])


def _tell_recheck(document: Mapping) -> str:
    recheck = document["recheck"]
    return (
        phrase("%(failed)s of %(of)s not as agreed", failed=recheck["failed"], of=recheck["n"])
        if recheck
        else phrase("none")
    )
