"""The issued summary as the first sheet of a spreadsheet: a label and its value in each row."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from qcapp.documents.summary_head_texts import DECISIONS
from qcapp.documents.table_files import Cell, Table
from qcapp.i18n.catalogue import Locale
from qcapp.i18n.localized_text import join, translate_phrase
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.terms import SEVERITIES
from qcapp.reports.totals import OUTCOMES, WORDS

STOVES = phrase("stoves")
FAULTS = phrase("faults")
COUNTS = ("offered", "inspected", "not_inspected", "good", "faulty", *OUTCOMES)

Row = tuple[Phrase, Cell]


def build_summary_sheet(summary: Mapping[str, Any], sha256: str, locale: Locale) -> Table:
    """summary: as word_summary gives it. Counts are numbers, days are days; a unit stands in the
    label.
    """
    rows = [*_list_terms(summary), *_list_counts(summary), (phrase("SHA-256"), sha256)]
    return Table(
        "summary",
        ("what", "value"),
        [
            (
                translate_phrase(locale, label),
                translate_phrase(locale, value) if isinstance(value, str) else value,
            )
            for label, value in rows
            if value not in (None, "")
        ],
    )


def _list_terms(summary: Mapping[str, Any]) -> Iterator[Row]:
    order, signatory = summary["order"] or {}, summary["signatory"] or {}
    yield phrase("Yard"), summary["yard"]["name"]
    yield phrase("Batch"), summary["batch"]["code"]
    yield phrase("Summary"), summary["number"]
    yield phrase("Decision"), DECISIONS[summary["decision"]["final"]]
    yield phrase("Issued, UTC"), read_moment(summary["issued_at"])
    yield phrase("Issued by"), summary["issued_by"]
    yield phrase("Answers for it"), ", ".join(filter(None, signatory.values()))
    yield phrase("Whom to ask"), summary["contact"]
    yield phrase("How to claim"), summary["claims"]
    yield phrase("Order"), order.get("number")
    yield phrase("Contract"), order.get("contract")
    yield _label(phrase("Ordered"), STOVES), order.get("ordered")
    yield _label(phrase("Released for delivery"), STOVES), order.get("released")
    yield phrase("Inspected from"), _read_day(order.get("inspected_from"))
    yield phrase("Inspected to"), _read_day(order.get("inspected_to"))


def _list_counts(summary: Mapping[str, Any]) -> Iterator[Row]:
    for key in COUNTS:
        yield _label(WORDS[key], STOVES), summary["counts"][key]
    for severity, word in SEVERITIES.items():
        yield _label(word, FAULTS), summary["faults"][severity]


def _label(words: Phrase, unit: Phrase) -> Phrase:
    return join(", ", (words, unit))


def read_moment(text: str) -> datetime:
    """UTC without its zone, which a spreadsheet does not know."""
    return datetime.fromisoformat(text).replace(tzinfo=None)


def _read_day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None
