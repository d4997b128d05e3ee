"""What the first lines of the printed summary say: the offer, its decision, its terms."""

from collections.abc import Iterator, Mapping
from typing import Any

from qcapp.documents.paper_words import SLOTS
from qcapp.i18n.localized_text import Day, join
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.i18n.sizes import name_size
from qcapp.reports.summary_messages import DECISION, MESSAGES

DECISIONS = {
    "accept": phrase("Accept"),
    "reject": phrase("Reject"),
    "not_ready": phrase("Not ready"),
}
TRANSLATION_NOTE = phrase(
    "This is a translation for reading. The yard signed the file: its figures, the codes of its "
    "sentences, and texts as they were typed. Where this differs from the English wording of a "
    "code, the English counts."
)


def list_head_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    batch = summary["batch"]
    return {
        "name": phrase(
            "Batch %(batch)s, summary %(number)s",
            batch=batch["code"],
            number=str(summary["number"]),
        ),
        "keyword": phrase("batch summary"),
        "size": name_size(batch["size"]),
        "offer": phrase_n(
            "%(yard)s offers %(n)s stove%(title)s, size %(size)s%(attributes)s.",
            "%(yard)s offers %(n)s stoves%(title)s, size %(size)s%(attributes)s.",
            batch["offered"],
            **SLOTS,
        ),
        "batch_title": phrase(": %(title)s", **SLOTS),
        "yes": phrase("yes"),
        "no": phrase("no"),
        "opened": phrase("Opened %(day)s.", day=Day(batch["opened_on"]))
        if batch["opened_on"]
        else "",
        "closed": phrase("Closed %(moment)s.", moment=Day(batch["closed_at"]))
        if batch["closed_at"]
        else "",
        "no_certificate": phrase("A quality pass is not a safety certificate."),
        "see_cautions": phrase("See the cautions."),
        "translated": TRANSLATION_NOTE,
        **_list_decision_texts(summary["decision"]),
        **_list_change_texts(summary),
    }


def _list_decision_texts(decision: Mapping[str, Any]) -> dict[str, Any]:
    overruled = decision["overruled"]
    return {
        "decisions": DECISIONS,
        "sign": phrase("Mark of the decision: %(decision)s", decision=DECISIONS[decision["final"]]),
        "overruled": phrase("Overruled:"),
        "overruling": overruled
        and phrase(
            "the agreed plan computes %(computed)s. Changed by %(by)s on %(moment)s: %(reason)s",
            **{
                **SLOTS,
                "computed": MESSAGES.word(DECISION[decision["computed"]]()),
                "moment": Day(overruled["at"]),
            },
        ),
    }


def _list_change_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    replaces, n = summary["replaces"], len(summary["changes"])
    number = str(replaces["number"]) if replaces else ""
    return {
        "changes": replaces and phrase("What changed since summary %(number)s", number=number),
        "changed": replaces
        and phrase_n(
            "It replaces summary %(number)s; %(n)s figure changed, see the annex.",
            "It replaces summary %(number)s; %(n)s figures changed, see the annex.",
            n,
            number=number,
        ),
        "no_change": phrase("Nothing shown here has changed."),
        "change_columns": [phrase("What"), phrase("Before"), phrase("Now")],
        "replaces": phrase("It replaces the summary with the SHA-256 %(digest)s.", **SLOTS),
    }


def list_term_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    """terms: label and value, as a buyer looks for them first; what was not given is left out."""
    claims: str = summary["claims"]
    return {
        "terms": list(_list_terms(summary)),
        "claims": phrase("How to claim"),
        "claim_lines": claims.splitlines(),
    }


def _list_terms(summary: Mapping[str, Any]) -> Iterator[tuple[Phrase, str]]:
    if summary["order"]:
        yield from _list_order_terms(summary["order"])
    signatory = summary["signatory"]
    if signatory:
        yield phrase("Answers for it"), join(", ", filter(None, signatory.values()))
    if summary["contact"]:
        yield phrase("Whom to ask"), summary["contact"]
    yield (
        phrase("Summary"),
        phrase(
            "number %(number)s, issued %(moment)s by %(by)s",
            number=str(summary["number"]),
            moment=Day(summary["issued_at"]),
            by=summary["issued_by"],
        ),
    )


def _list_order_terms(order: Mapping[str, Any]) -> Iterator[tuple[Phrase, str]]:
    if order["number"]:
        yield phrase("Order"), order["number"]
    if order["contract"]:
        yield phrase("Contract"), order["contract"]
    if order["ordered"]:
        yield phrase("Ordered"), _count_stoves(order["ordered"])
    yield phrase("Released for delivery"), _say_released(order)
    if order["inspected_from"]:
        first, last = Day(order["inspected_from"]), Day(order["inspected_to"])
        yield phrase("Inspected"), phrase("%(first)s to %(last)s", first=first, last=last)


def _say_released(order: Mapping[str, Any]) -> Phrase:
    released, ordered = _count_stoves(order["released"]), order["ordered"]
    if not ordered or order["released"] == ordered:
        return released
    n = abs(order["released"] - ordered)
    if order["released"] < ordered:
        return phrase("%(stoves)s, %(n)s fewer than ordered", stoves=released, n=n)
    return phrase("%(stoves)s, %(n)s more than ordered", stoves=released, n=n)


def _count_stoves(n: int) -> Phrase:
    return phrase_n("%(n)s stove", "%(n)s stoves", n)
