"""One piece at several stages: what each stage counts, and which of its articles are one piece."""

from collections.abc import Collection
from typing import Any, NamedTuple

from sqlalchemy import Connection, Integer, Select, case, func, select, tuple_

from qcapp.checklist.history import StepRef
from qcapp.inspection.filters import Filters
from qcapp.inspection.pieces import Article, MadeFrom
from qcapp.inspection.tallies import COUNTED_VERDICTS
from qcapp.store.chunks import chunked
from qcapp.store.projections.tallies import join_results
from qcapp.store.queries.filtered_results import filter_stoves
from qcapp.store.tables import CHECK_KEY, INSPECTION, MADE_FROM, RESULT, STOVE, STOVE_NAME

MAX_NAMED = 20


class StageCount(NamedTuple):
    """Articles of a checklist at first pass; whole: nothing left out, or failed all the same; good:
    of these, nothing failed.
    """

    checklist: str
    articles: int
    whole: int
    good: int


class Unmatched(NamedTuple):
    """A serial that was entered at `serial` for a piece of the stage that nobody inspected."""

    serial: str
    stage: str
    from_serial: str


class StepPass(NamedTuple):
    """Whether an article failed a step at first pass."""

    key: str
    step: StepRef
    failed: bool


def select_first_passes(filters: Filters) -> Select[Any]:
    """Articles with their first pass under the filters."""
    is_whole = STOVE.c.has_first_pass_fail | ~STOVE.c.has_first_pass_gap
    query = (
        select(
            STOVE.c.stove_key,
            STOVE.c.serial,
            STOVE.c.checklist,
            (~STOVE.c.has_first_pass_fail).label("is_good"),
            is_whole.label("is_whole"),
        )
        .join(INSPECTION, INSPECTION.c.stove_no == STOVE.c.no)
        .where(INSPECTION.c.is_first_pass)
    )
    if filters.since is not None:
        query = query.where(INSPECTION.c.captured_at >= filters.since)
    if filters.until is not None:
        # "~" sorts after every character of a timestamp, so the whole last day is in.
        query = query.where(INSPECTION.c.captured_at <= f"{filters.until}~")
    return filter_stoves(query, filters)


def list_stage_counts(connection: Connection, filters: Filters) -> list[StageCount]:
    here = select_first_passes(filters).subquery()
    good = case((here.c.is_whole & here.c.is_good, 1), else_=0)
    query = select(
        here.c.checklist,
        func.count(),
        func.sum(here.c.is_whole.cast(Integer)),
        func.sum(good),
    ).group_by(here.c.checklist)
    return [StageCount(*row) for row in connection.execute(query)]


def list_links(
    connection: Connection, filters: Filters
) -> tuple[dict[str, Article], list[MadeFrom]]:
    """Links with both ends under the filters, and these ends by key."""
    later = select_first_passes(filters).subquery("later")
    earlier = select_first_passes(filters).subquery("earlier")
    columns = ("stove_key", "checklist", "is_good", "is_whole")
    query = (
        select(MADE_FROM, *(side.c[name] for side in (later, earlier) for name in columns))
        .join(later, later.c.stove_key == MADE_FROM.c.stove_key)
        .join(earlier, earlier.c.stove_key == MADE_FROM.c.from_key)
    )
    articles: dict[str, Article] = {}
    links = []
    for stove_key, stage, from_key, from_serial, *ends in connection.execute(query).all():
        links.append(MadeFrom(stove_key, stage, from_key, from_serial))
        for key, checklist, is_good, is_whole in (ends[:4], ends[4:]):
            articles[key] = Article(key, checklist, bool(is_good), bool(is_whole))
    return articles, sorted(links)


def list_claims(connection: Connection, pieces: Collection[str]) -> list[MadeFrom]:
    """Every link to these pieces, whatever the filters leave out."""
    return [
        MadeFrom(*row)
        for keys in chunked(sorted(pieces))
        for row in connection.execute(select(MADE_FROM).where(MADE_FROM.c.from_key.in_(keys)))
    ]


def list_names(connection: Connection, keys: Collection[str]) -> dict[str, str]:
    """{key: stage/serial as it was typed} of those that were inspected."""
    query = select(STOVE.c.stove_key, STOVE_NAME)
    return {
        key: name
        for piece in chunked(sorted(keys))
        for key, name in connection.execute(query.where(STOVE.c.stove_key.in_(piece)))
    }


def list_unmatched(
    connection: Connection, filters: Filters, entered: Collection[tuple[str, str]]
) -> tuple[int, list[Unmatched]]:
    """How many serials of pieces were entered that no inspection knows, and the first few of them.

    entered: (checklist, stage) for which a serial is asked.
    """
    here = select_first_passes(filters).subquery()
    known = select(STOVE.c.no).where(STOVE.c.stove_key == MADE_FROM.c.from_key).exists()
    query = (
        select(here.c.serial, MADE_FROM.c.stage, MADE_FROM.c.from_serial)
        .join(MADE_FROM, MADE_FROM.c.stove_key == here.c.stove_key)
        .where(tuple_(here.c.checklist, MADE_FROM.c.stage).in_(sorted(entered)), ~known)
        .order_by(here.c.serial, MADE_FROM.c.stage)
    )
    found = [Unmatched(*row) for row in connection.execute(query)]
    return len(found), found[:MAX_NAMED]


def list_step_passes(
    connection: Connection, keys: Collection[str], steps: Collection[str]
) -> list[StepPass]:
    """Of these articles, by every step with one of these ids that was looked at."""
    names = (STOVE.c.stove_key, CHECK_KEY.c.checklist, CHECK_KEY.c.step)
    query = (
        select(*names, func.max(RESULT.c.is_fail.cast(Integer)))
        .select_from(join_results())
        .where(
            INSPECTION.c.is_first_pass,
            RESULT.c.verdict.in_(COUNTED_VERDICTS),
            CHECK_KEY.c.step.in_(sorted(steps)),
        )
        .group_by(*names)
    )
    return [
        StepPass(key, StepRef(checklist, step), bool(failed))
        for piece in chunked(sorted(keys))
        for key, checklist, step, failed in connection.execute(
            query.where(STOVE.c.stove_key.in_(piece))
        )
    ]
