"""Steps by people: a cell for everyone who did a step, in blocks of one trade. Nobody is ranked."""

from collections.abc import Iterable
from dataclasses import dataclass

from qcapp.reports.artisans import ArtisanRow, StepTable
from qcapp.reports.groups import GroupRate, build_rate

# Upper ends of the shades, as shares; the last shade is open.
SHADES = (0.02, 0.05, 0.10, 0.20)


@dataclass(frozen=True)
class MatrixPerson:
    """is_apprentice: at the newest stove of any of the block's steps."""

    artisan: str
    name: str
    is_apprentice: bool


@dataclass(frozen=True)
class MatrixRow:
    """cells: one for each person of the block, None where the person did not do the step.

    everybody: with what is assigned to nobody.
    """

    table: StepTable
    cells: tuple[ArtisanRow | None, ...]
    everybody: GroupRate


@dataclass(frozen=True)
class MatrixBlock:
    """The steps of one trade that anybody known did, with all who did one. people: by code."""

    trade: str
    people: tuple[MatrixPerson, ...]
    rows: tuple[MatrixRow, ...]


def build_people_matrix(tables: Iterable[StepTable]) -> list[MatrixBlock]:
    """Blocks by the code of their first person; steps in the order of the tables, as
    build_step_tables gives them.
    """
    by_trade: dict[str, list[StepTable]] = {}
    for table in tables:
        if table.rows:
            by_trade.setdefault(table.trade, []).append(table)
    blocks = [_build_block(trade, own) for trade, own in by_trade.items()]
    return sorted(blocks, key=lambda block: block.people[0].artisan)


def _build_block(trade: str, tables: list[StepTable]) -> MatrixBlock:
    known = sorted((row for table in tables for row in table.rows), key=lambda row: row.artisan)
    names = {row.artisan: row.name for row in known}
    learning = {row.artisan for row in known if row.is_apprentice}
    people = tuple(MatrixPerson(code, names[code], code in learning) for code in names)
    return MatrixBlock(trade, people, tuple(_build_row(table, people) for table in tables))


def _build_row(table: StepTable, people: tuple[MatrixPerson, ...]) -> MatrixRow:
    by_code = {row.artisan: row for row in table.rows}
    unknown = table.not_assigned
    return MatrixRow(
        table,
        tuple(by_code.get(person.artisan) for person in people),
        build_rate(table.inspected + unknown.inspected, table.failed + unknown.failed),
    )


def find_shade(row: ArtisanRow, min_count: int) -> int | None:
    """0, the lightest, to 4, by the rate after allowing for chance (stats/shrinkage.py); None with
    fewer than min_count inspections, too few to say anything about the person.
    """
    if row.inspected < min_count:
        return None
    return sum(row.rate >= end for end in SHADES)
