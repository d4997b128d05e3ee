"""What several stages saw of one piece: its links, and the looks at some checks."""

from collections.abc import Collection, Iterable

from sqlalchemy import Connection, select

from qcapp.inspection.escapes import Look
from qcapp.inspection.filters import Filters
from qcapp.inspection.pieces import LOAD_STAGE, MadeFrom
from qcapp.inspection.tallies import COUNTED_VERDICTS
from qcapp.store.chunks import chunked
from qcapp.store.projections.tallies import join_results
from qcapp.store.queries.piece_queries import list_claims, select_first_passes
from qcapp.store.tables import CHECK_KEY, INSPECTION, MADE_FROM, RESULT, STOVE


def list_later_articles(connection: Connection, filters: Filters) -> list[str]:
    """Keys under the filters of what goes on from a piece that an earlier stage inspected."""
    here = select_first_passes(filters).subquery()
    links = (
        select(MADE_FROM.c.stage)
        .join(STOVE, STOVE.c.stove_key == MADE_FROM.c.from_key)
        .where(MADE_FROM.c.stove_key == here.c.stove_key)
    )
    return sorted(connection.execute(select(here.c.stove_key).where(links.exists())).scalars())


def list_links_down(connection: Connection, keys: Iterable[str]) -> list[MadeFrom]:
    """All that these articles are made from, and those in turn, with every other claim to it. Other
    pieces of a kiln load are not among them.
    """
    found: set[MadeFrom] = set()
    seen, ahead = set(), {*keys}
    while ahead:
        links = _list_links(connection, ahead)
        found |= links
        seen |= ahead
        ahead = {link.from_key for link in links} - seen
    pieces = {link.from_key for link in found if link.stage != LOAD_STAGE}
    return sorted(found | {*list_claims(connection, pieces)})


def list_links_around(connection: Connection, key: str) -> list[MadeFrom]:
    """Every link within the piece that this article is, in both directions, with the load of each.
    Of a load: its pieces alone.
    """
    found: set[MadeFrom] = set()
    seen, ahead = set(), {key}
    is_load = key.startswith(f"{LOAD_STAGE}/")
    while ahead:
        links = _list_links(connection, ahead)
        links |= {*list_claims(connection, ahead)}
        found |= links
        seen |= ahead
        ends = {(link.stove_key, link.from_key) for link in links if link.stage != LOAD_STAGE}
        ahead = set() if is_load else {end for pair in ends for end in pair} - seen
    return sorted(found)


def find_keys(connection: Connection, keys: Collection[str]) -> dict[str, tuple[str, str]]:
    """{key: (checklist id, serial as it was typed)} of those that were inspected."""
    columns = (STOVE.c.stove_key, STOVE.c.checklist, STOVE.c.serial)
    query = select(*columns).where(STOVE.c.stove_key.in_(sorted(keys)))
    return {row.stove_key: (row.checklist, row.serial) for row in connection.execute(query)}


def _list_links(connection: Connection, keys: Collection[str]) -> set[MadeFrom]:
    return {
        MadeFrom(*row)
        for some in chunked(sorted(keys))
        for row in connection.execute(select(MADE_FROM).where(MADE_FROM.c.stove_key.in_(some)))
    }


def list_looks(
    connection: Connection, keys: Collection[str], checks: Collection[str]
) -> dict[str, list[Look]]:
    """Of these articles at checks with these ids, by article, oldest first."""
    query = (
        select(
            STOVE.c.stove_key,
            CHECK_KEY.c.checklist,
            CHECK_KEY.c.check_id,
            INSPECTION.c.captured_at,
            INSPECTION.c.is_first_pass,
            RESULT.c.is_fail,
        )
        .select_from(join_results())
        .where(RESULT.c.verdict.in_(COUNTED_VERDICTS), CHECK_KEY.c.check_id.in_(sorted(checks)))
        .order_by(STOVE.c.stove_key, INSPECTION.c.captured_at, INSPECTION.c.no)
    )
    found: dict[str, list[Look]] = {}
    for some in chunked(sorted(keys)):
        for row in connection.execute(query.where(STOVE.c.stove_key.in_(some))):
            found.setdefault(row.stove_key, []).append(Look(*row))
    return found
