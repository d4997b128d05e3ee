"""An issued summary as a page: everything on it comes from the frozen, signed document."""

from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import Request

from qcapp.charts.drawing import mark_drawing
from qcapp.charts.frame import Chart
from qcapp.charts.histogram import Bin, draw_histogram
from qcapp.web.pages import page
from qcapp.words.phrase import phrase
from qcapp.words.spoken import get_spoken


@dataclass(frozen=True)
class BuyersView:
    """What a buyer's page has beside the summary; None on the lead's preview.

    address: the page's own, with its token. versions: rows (number, issued_at), newest first. is_stale:
    records of stoves came in after the newest summary. answers: the buyer's own words so far.
    """

    address: str
    versions: list
    is_newest: bool
    is_stale: bool
    photos: frozenset[str]
    answers: list
    expires_at: str


def show_proof(request: Request, proof: Mapping, drawings: Mapping[str, str], buyer: BuyersView | None = None):
    document = proof["summary"]
    return page(
        request, "summary.html", title=phrase("Batch %(code)s", code=document['batch']['code']), document=document, proof=proof, buyer=buyer,
        drawing=_draw_parts(document, drawings.get(document["drawing"])), charts=[(measure, _draw_measure(measure)) for measure in document["measures"]],
    )


def _draw_parts(document: Mapping, drawing: str | None) -> str:
    if drawing is None:
        return ""
    marks = {row["part"]: row["failed"] for row in document["parts"]}
    words = ", ".join(f"{row['title']}: {row['failed']}" for row in document["parts"]) or get_spoken().say(phrase("none"))
    return mark_drawing(drawing, marks, title=get_spoken().say(phrase("Failed checks at first pass, by part")), description=words)


def _draw_measure(measure: Mapping) -> Chart:
    bins = [Bin(float(row["from"]), float(row["to"]), row["count"]) for row in measure["bins"]]
    limits = {name: None if measure[name] is None else float(measure[name]) for name in ("lower", "upper")}
    return draw_histogram(bins, **limits, unit=measure["unit"], title=measure["ask"], name=f"m-{measure['check']}")
