"""The trainer's tables as rows."""

from collections.abc import Callable

from qcapp.documents.table_files import Cell, Table
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase
from qcapp.reports.artisans import ArtisanRow, StepTable
from qcapp.reports.groups import GroupRate
from qcapp.reports.lessons import LessonRow
from qcapp.reports.piece_yields import Yield
from qcapp.reports.teach import TeachRow
from qcapp.stats.interval import Estimate
from qcapp.usecases.trainer_figures import TrainerFigures


def _teach(figures: TrainerFigures) -> Table:
    columns = (
        "checklist",
        "step",
        "trade",
        "apprentices_failed",
        "apprentices_inspected",
        "experienced_failed",
        "experienced_inspected",
        "not_assigned_failed",
        "not_assigned_inspected",
        "apprentice_people",
        "experienced_people",
        "most_faults_of",
        "most_faults",
        "batches_compared",
        "difference_in_these_stoves",
        "difference",
        "difference_low",
        "difference_high",
        "p",
        "q",
        "strength",
        "weight",
        "score",
        "burden",
        "stoves_more_low",
        "stoves_more_high",
    )
    return Table("teach", columns, [_teach_row(row) for row in figures.teach_rows])


def _teach_row(row: TeachRow) -> tuple[Cell, ...]:
    groups = (row.apprentices, row.experienced, row.not_assigned)
    counts = [number for group in groups for number in (group.failed, group.inspected)]
    most = (row.who[0].artisan, row.who[0].rate.failed) if row.who else (None, None)
    more = row.stoves_more
    return (
        row.checklist,
        row.title,
        row.trade,
        *counts,
        row.apprentice_people,
        row.experienced_people,
        *most,
        row.batches_compared,
        row.excess,
        *_list_ends(row.difference),
        row.p,
        row.q,
        row.strength,
        row.weight,
        row.score,
        row.burden,
        *((more.low, more.high) if more else (None, None)),
    )


def _list_ends(found: Estimate | None) -> tuple[float | None, ...]:
    return (found.value, found.low, found.high) if found else (None,) * 3


def _artisans(figures: TrainerFigures) -> Table:
    columns = (
        "checklist",
        "step",
        "trade",
        "artisan",
        "name",
        "is_apprentice",
        "failed",
        "inspected",
        "raw_rate",
        "raw_low",
        "raw_high",
        "rate",
        "low",
        "high",
        "yard_rate",
        "mark",
    )
    rows = [_artisan_row(table, row) for table in figures.step_tables for row in table.rows]
    return Table("artisans", columns, rows)


def _artisan_row(table: StepTable, row: ArtisanRow) -> tuple[Cell, ...]:
    return (
        table.checklist,
        table.title,
        table.trade,
        row.artisan,
        row.name,
        "yes" if row.is_apprentice else "no",
        row.failed,
        row.inspected,
        row.raw,
        row.raw_interval.low if row.raw_interval else None,
        row.raw_interval.high if row.raw_interval else None,
        row.rate,
        row.low,
        row.high,
        table.mean,
        row.mark,
    )


def _faults(figures: TrainerFigures) -> Table:
    columns = (
        "checklist",
        "step",
        "check",
        "fault",
        "severity",
        "failed",
        "share",
        "running_share",
    )
    rows: list[tuple[Cell, ...]] = [
        (
            step.checklist,
            step.title,
            row.ask,
            row.title,
            row.severity,
            row.failed,
            row.share,
            row.running,
        )
        for step in figures.step_faults
        for row in step.rows
    ]
    return Table("faults", columns, rows)


def _lessons(figures: TrainerFigures) -> Table:
    columns = (
        "held_on",
        "checklist",
        "step",
        "people",
        "before_failed",
        "before_inspected",
        "after_failed",
        "after_inspected",
        "change",
        "change_low",
        "change_high",
        "others_before_failed",
        "others_before_inspected",
        "others_after_failed",
        "others_after_inspected",
        "people_on_both_sides",
        "others_on_both_sides",
        "p_against_others",
        "verdict",
        "note",
    )
    return Table("lessons", columns, [_lesson_row(row) for row in figures.lesson_rows])


def _lesson_row(row: LessonRow) -> tuple[Cell, ...]:
    against = row.against_others
    return (
        row.lesson.held_on,
        row.checklist,
        row.title,
        ", ".join(row.lesson.people),
        row.before.failed,
        row.before.inspected,
        row.after.failed,
        row.after.inspected,
        *_list_ends(row.change),
        row.others_before.failed,
        row.others_before.inspected,
        row.others_after.failed,
        row.others_after.inspected,
        len(row.who),
        *((against.others, against.p) if against else (None, None)),
        row.verdict,
        row.lesson.note,
    )


def _pieces(figures: TrainerFigures) -> Table:
    """kind: stage, product, linked (at an earlier stage and this one), every (linked at all of
    them), step (a piece counted once).
    """
    columns = ("kind", "checklist", "earlier", "step", "good", "of", "rate", "low", "high")
    report = figures.pieces.report
    rows: list[tuple[Cell, ...]] = []
    for line in report.lines:
        name = line.checklist
        rows += [_yield_row("stage", one.checklist, "", one.first_pass) for one in line.stages]
        if line.product:
            ends = (line.product.value, line.product.low, line.product.high)
            rows.append(("product", name, "", "", None, None, *ends))
        rows += [_yield_row("linked", name, pair.earlier, pair.both) for pair in line.pairs]
        rows.append(_yield_row("every", name, "", line.every))
    for work in report.works:
        good = work.pieces - work.failed
        ends = (1 - work.rate, 1 - work.interval.high, 1 - work.interval.low)
        rows.append(("step", "", "", work.title, good, work.pieces, *ends))
    return Table("pieces", columns, rows)


def _yield_row(kind: str, checklist: str, earlier: str, found: Yield) -> tuple[Cell, ...]:
    ends = (found.interval.low, found.interval.high) if found.interval else (None, None)
    return (kind, checklist, earlier, "", found.good, found.of, found.rate, *ends)


def _escapes(figures: TrainerFigures) -> Table:
    """A row a stage without check, then a row for each check of a later stage."""
    columns = ("stage_checklist", "later_checklist", "check", "step", "let_through", "of")
    rows: list[tuple[Cell, ...]] = []
    for stage in figures.escapes:
        rows.append((stage.checklist, "", "", "", *_list_rate(stage.rate)))
        rows += [
            (stage.checklist, one.later.checklist, one.ask, one.step, *_list_rate(one.rate))
            for one in stage.checks
        ]
    return Table("escapes", (*columns, "rate", "low", "high"), rows)


def _list_rate(found: GroupRate) -> tuple[Cell, ...]:
    ends = (found.interval.low, found.interval.high) if found.interval else (None, None)
    return (found.failed, found.inspected, found.rate, *ends)


TABLES: dict[str, Callable[[TrainerFigures], Table]] = {
    "teach": _teach,
    "artisans": _artisans,
    "faults": _faults,
    "lessons": _lessons,
    "pieces": _pieces,
    "escapes": _escapes,
}


def build_table(figures: TrainerFigures, name: str) -> Table:
    """Raises NotFound for a name that is not in TABLES."""
    if name not in TABLES:
        raise NotFound(
            phrase("there is no such table"),
            name,
            phrase("there are %(tables)s", tables=tuple(TABLES)),
        )
    return TABLES[name](figures)
