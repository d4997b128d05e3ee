"""What the printed summary says of the agreed plan, and of the faults against it."""

from collections.abc import Iterator, Mapping
from typing import Any

from qcapp.documents.paper_words import SLOTS
from qcapp.documents.summary_shares import describe_share
from qcapp.i18n.localized_text import Day, join
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.terms import REGIMES


def list_severity_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "against": phrase("Faults against what was agreed"),
        "sample_columns": [
            phrase("Severity"),
            phrase("Inspected"),
            phrase("Failed"),
            phrase("Rate"),
            phrase("Allowed"),
            phrase("Met"),
        ],
        "every_columns": [
            phrase("Severity"),
            phrase("Inspected"),
            phrase("Failed"),
            phrase("Rate"),
            phrase("Still open"),
        ],
        "shares": [describe_share(row) for row in summary["severities"]],
        "none": phrase("none"),
        "not_looked_for": phrase("not looked for"),
        "some": phrase("some"),
        "severity_note": phrase(
            "Critical can hurt someone; major affects performance or life; minor is appearance "
            "only. The figures count stoves with at least one such fault at their first "
            "inspection; still open: on a released stove without a concession."
        ),
    }


def list_plan_texts(plan: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "plan": phrase("The agreed plan"),
        "agreed": join(" ", _say_agreed(plan)),
        "limit_columns": [
            phrase("Severity"),
            phrase("AQL, %%"),
            phrase("Inspect"),
            phrase("Accept up to"),
            phrase("Reject from"),
        ],
        "none_may_fail": phrase("none may fail"),
        "seed": phrase(
            "The sample was drawn with the seed %(seed)s; anyone can draw it again with this seed.",
            **SLOTS,
        ),
        "sample": phrase("Stoves in the sample:"),
    }


def _say_agreed(plan: Mapping[str, Any]) -> Iterator[Phrase]:
    if plan["inspect"] == "sample":
        yield phrase("Agreed: a sample of the %(lot)s stoves is inspected.", lot=plan["lot"])
    else:
        yield phrase("Agreed: every stove of %(lot)s is inspected.", lot=plan["lot"])
    if plan["level"]:
        yield phrase(
            "Level %(level)s, %(regime)s inspection, code letter %(letter)s.",
            level=plan["level"],
            regime=REGIMES[plan["regime"]],
            letter=plan["letter"],
        )
    if plan["agreed_at"] and plan["agreed_by"]:
        moment = Day(plan["agreed_at"])
        yield phrase("Agreed %(moment)s by %(by)s.", moment=moment, by=plan["agreed_by"])
    elif plan["agreed_at"]:
        yield phrase("Agreed %(moment)s.", moment=Day(plan["agreed_at"]))
