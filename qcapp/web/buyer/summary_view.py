"""An issued summary as a page: everything on it comes from the frozen, signed document.

Its sentences are data and are worded in the page's language; what is signed, checked and downloaded
stays as it is.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse

from qcapp.charts.earlier import draw_earlier
from qcapp.charts.frame import Chart
from qcapp.charts.histogram import Bin, draw_histogram
from qcapp.charts.outcomes import draw_outcomes
from qcapp.documents.summary_head_texts import TRANSLATION_NOTE
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.phrase import ENGLISH, phrase
from qcapp.inspection.batch_facts import ServerEvent
from qcapp.reports.earlier_wording import OUTGOING_CONDITION, word_earlier, word_outgoing
from qcapp.reports.summary_wording import (
    SHOWN_CAUSES,
    collect_texts,
    count_other_faults,
    list_photos,
    say_intervals,
    word_summary,
)
from qcapp.reports.totals import MEANINGS, list_sum_tables
from qcapp.store.engine import Store
from qcapp.store.registry import photos
from qcapp.store.registry.checklists import load_checklists
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.web.layout.page import page
from qcapp.web.layout.part_map import draw_part_map

ANSWERS = {
    "accept": phrase("I accept it"),
    "question": phrase("I have a question"),
    "reject": phrase("I refuse it"),
}


NEXT = {
    "accept": phrase("You may take these stoves. Say so, or check some of them again first."),
    "reject": phrase(
        "By the agreed plan you need not take them. Refuse, or ask what the yard does."
    ),
    "not_ready": phrase("Do not decide yet: the yard issues a new summary. You may ask meanwhile."),
}


@dataclass(frozen=True)
class BuyersView:
    """What a buyer's page has beside the summary; None on the lead's preview.

    address: the page's own, with its token. versions: rows (number, issued_at), newest first.
    is_stale: records of stoves came in after the newest summary. answers: the buyer's own words so
    far. say: the answer that is chosen beforehand, by its key, or empty.
    """

    address: str
    versions: list[Any]
    is_newest: bool
    is_stale: bool
    answers: list[ServerEvent]
    expires_at: str
    say: str = ""


def load_texts(store: Store, document: Mapping[str, Any]) -> dict[str, str]:
    """What the summary's checklists say in the page's language, by the English that the summary has
    frozen.
    """
    if get_active_locale().language == ENGLISH:
        return {}
    hashes = [document["checklist"]["hash"], *(one["hash"] for one in document["other_checklists"])]
    with store.reading() as connection:
        known = load_checklists(connection, hashes)
    return collect_texts(
        [known[key] for key in hashes if key in known], get_active_locale().language
    )


def show_proof(
    request: Request,
    proof: Mapping[str, Any],
    drawings: KeptDrawings,
    store: Store,
    buyer: BuyersView | None = None,
) -> HTMLResponse:
    locale = get_active_locale()
    document = word_summary(proof["summary"], load_texts(store, proof["summary"]))
    earlier = document["earlier"]
    with store.reading() as connection:
        shown_photos = photos.list_whole(connection, list_photos(document))
    return page(
        request,
        "buyer/summary.html",
        title=phrase("Batch %(code)s", code=document["batch"]["code"]),
        document=document,
        intervals=say_intervals(document),
        proof=proof,
        buyer=buyer,
        say=buyer.say if buyer else "",
        answer_words=ANSWERS,
        next_step=NEXT[document["decision"]["final"]],
        shown_photos=shown_photos,
        photo_address=f"{buyer.address}/photos" if buyer else "/photos",
        bar=draw_outcomes(document["counts"], name="became", locale=locale),
        earlier_chart=earlier
        and draw_earlier(earlier, document["first_pass"], name="before", locale=locale),
        sum_tables=list_sum_tables(document["counts"]),
        word_meanings=MEANINGS,
        causes=document["causes"][:SHOWN_CAUSES],
        other_faults=count_other_faults(document),
        earlier=word_earlier(document),
        outgoing=word_outgoing(document["plan"]),
        outgoing_condition=OUTGOING_CONDITION,
        translated=None if locale.language == ENGLISH else TRANSLATION_NOTE,
        drawing=_draw_parts(document, drawings.find_of_summary(document)),
        charts=[
            (measure, _draw_measure(measure, f"m-{place}"))
            for place, measure in enumerate(document["measures"])
        ],
    )


def _draw_parts(document: Mapping[str, Any], drawing: str | None) -> str:
    if drawing is None:
        return ""
    marks = {row["part"]: row["failed"] for row in document["parts"]}
    counts = [
        phrase("%(part)s: %(n)s", part=row["title"], n=row["failed"]) for row in document["parts"]
    ]
    return draw_part_map(
        drawing, marks, counts, title=phrase("Failed checks at first pass, by part")
    )


def _draw_measure(measure: Mapping[str, Any], name: str) -> Chart:
    bins = [Bin(float(row["from"]), float(row["to"]), row["count"]) for row in measure["bins"]]
    limits = {
        name: None if measure[name] is None else float(measure[name]) for name in ("lower", "upper")
    }
    return draw_histogram(
        bins,
        **limits,
        outside=measure["outside"],
        unit=measure["unit"],
        title=measure["ask"],
        name=name,
        locale=get_active_locale(),
    )
