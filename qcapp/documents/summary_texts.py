"""What the printed summary says around its figures; what the template fills in is a slot."""

from collections.abc import Mapping
from typing import Any

from qcapp.documents.summary_annex_texts import list_annex_texts, list_proof_texts
from qcapp.documents.summary_fault_texts import list_fault_texts, list_measure_texts
from qcapp.documents.summary_head_texts import list_head_texts, list_term_texts
from qcapp.documents.summary_plan_texts import list_plan_texts, list_severity_texts
from qcapp.documents.summary_shares import as_percent, describe_share
from qcapp.i18n.localized_text import Figure, join
from qcapp.i18n.phrase import phrase
from qcapp.reports.earlier_wording import OUTGOING_CONDITION, word_earlier, word_outgoing
from qcapp.reports.summary_wording import say_intervals
from qcapp.reports.totals import MEANINGS, OUTCOMES, WORDS, SumTable, list_sum_tables


def list_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    """By name, as the template asks for them. summary: as word_summary gives it."""
    return {
        **list_head_texts(summary),
        **list_term_texts(summary),
        **_list_certainty_texts(summary),
        **_list_count_texts(summary),
        **list_severity_texts(summary),
        **list_plan_texts(summary["plan"]),
        **list_fault_texts(summary),
        **list_measure_texts(summary),
        **list_annex_texts(summary),
        **list_proof_texts(),
    }


def _list_certainty_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    promise, outgoing = summary["promise"], word_outgoing(summary["plan"])
    return {
        "promise": phrase("How certain this is"),
        "promised": phrase(
            "Inspected %(inspected)s of %(lot)s, with a critical or major fault %(found)s; at most "
            "%(left)s such stoves among the others, at %(level)s confidence (exact, one-sided).",
            inspected=promise["inspected"],
            lot=promise["lot"],
            found=promise["found"],
            left=promise["left_at_most"],
            level=as_percent(promise["level"]),
        ),
        "outgoing": join(" ", [*outgoing, OUTGOING_CONDITION]) if outgoing else "",
        "earlier": join(" ", word_earlier(summary)),
        "in_brackets": say_intervals(summary),
    }


def _list_count_texts(summary: Mapping[str, Any]) -> dict[str, Any]:
    counts, first, per_stove = summary["counts"], summary["first_pass"], summary["per_stove"]
    pieces = [key for key in (*OUTCOMES, "not_inspected") if counts[key]]
    return {
        "became": phrase("What became of the %(n)s stoves", n=sum(counts[key] for key in pieces)),
        "pieces": [[key, WORDS[key], counts[key]] for key in pieces],
        "stoves": phrase("The counts"),
        "sums": [_describe_sum(one) for one in list_sum_tables(counts)],
        "meanings": MEANINGS,
        "first_pass": phrase(
            "Good at the first inspection: %(good)s of %(of)s fully inspected",
            good=first["good"],
            of=first["of"],
        ),
        "per_stove": ""
        if per_stove["value"] is None
        else phrase(
            "Faults per stove: %(value)s (%(low)s to %(high)s), %(faults)s on %(of)s fully "
            "inspected.",
            faults=per_stove["faults"],
            of=per_stove["of"],
            **{key: Figure(per_stove[key]) for key in ("value", "low", "high")},
        ),
        "first_share": describe_share(first),
    }


def _describe_sum(table: SumTable) -> dict[str, Any]:
    return {
        "columns": [table.title, phrase("Stoves")],
        "rows": [[word, str(count)] for word, count in table.parts],
        "whole": [table.whole, str(table.count)],
    }
