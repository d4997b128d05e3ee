"""Filters of the trainer's pages: all of them in the address, so that a link can be shared."""

from dataclasses import asdict
from datetime import date
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Depends, Query
from pydantic import BaseModel, StringConstraints

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.filters import Filters


class FilterQuery(BaseModel):
    """An empty field is no filter. passes: first (first passes only) or all; days: recent or
    all.
    """

    since: Annotated[str, StringConstraints(max_length=10)] = ""
    until: Annotated[str, StringConstraints(max_length=10)] = ""
    batch: Annotated[str, StringConstraints(max_length=64)] = ""
    size: Annotated[str, StringConstraints(max_length=60)] = ""
    stage: Annotated[str, StringConstraints(max_length=60)] = ""
    trade: Annotated[str, StringConstraints(max_length=60)] = ""
    passes: Annotated[str, StringConstraints(max_length=5)] = "first"
    days: Annotated[str, StringConstraints(max_length=6)] = "recent"


def read_filters(query: Annotated[FilterQuery, Query()]) -> Filters:
    """Raises BadInput."""
    for name, text in (("since", query.since), ("until", query.until)):
        _check_date(name, text)
    if query.since and query.until and query.since > query.until:
        raise BadInput(
            phrase("the first day is after the last one"),
            "since, until",
            phrase("swap the two days"),
        )
    if query.passes not in ("first", "all"):
        raise BadInput(
            phrase("%(passes)s is not a choice", passes=repr(query.passes)),
            "passes",
            phrase("choose first or all"),
        )
    if query.days not in ("recent", "all"):
        raise BadInput(
            phrase("%(days)s is not a choice", days=repr(query.days)),
            "days",
            phrase("choose recent or all"),
        )
    return Filters(
        since=query.since or None,
        until=query.until or None,
        batch=query.batch or None,
        size=query.size or None,
        stage=query.stage or None,
        trade=query.trade or None,
        has_rework=query.passes == "all",
        has_all_days=query.days == "all",
    )


FiltersDep = Annotated[Filters, Depends(read_filters)]


def _check_date(name: str, text: str) -> None:
    try:
        if text and date.fromisoformat(text).isoformat() != text:
            raise ValueError
    except ValueError as error:
        raise BadInput(
            phrase("%(text)s is not a day", text=repr(text)), name, phrase("write it as 2026-11-25")
        ) from error


def build_query(filters: Filters) -> str:
    """The address part that brings these filters back; empty without filters."""
    given = {
        key: value for key, value in asdict(filters).items() if value and not key.startswith("has_")
    }
    given |= ({"passes": "all"} if filters.has_rework else {}) | (
        {"days": "all"} if filters.has_all_days else {}
    )
    return f"?{urlencode(given)}" if given else ""
