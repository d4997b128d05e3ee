"""The trainer's figures as drawings: rates by artisan, a learning curve, faults, the part map."""

from itertools import accumulate

from qcapp.charts.curve import CurvePoint, RunMark, draw_curve
from qcapp.charts.frame import Chart, percent
from qcapp.charts.groups import GroupMark, draw_groups
from qcapp.charts.pareto import Bar, draw_pareto
from qcapp.charts.rates import RateMark, draw_rates
from qcapp.checklist.history import CheckRef
from qcapp.checklist.model import Checklist
from qcapp.i18n.active_locale import get_active_locale
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import Phrase, phrase, phrase_n
from qcapp.reports.apprentice import ArtisanStep, Run
from qcapp.reports.artisans import StepTable
from qcapp.reports.faults import FaultRow, StepFaults
from qcapp.reports.groups import GroupRate
from qcapp.reports.teach import TeachRow
from qcapp.usecases.kept_drawings import KeptDrawings
from qcapp.usecases.trainer_figures import TrainerFigures
from qcapp.web.layout.fault_pictures import draw_fault
from qcapp.web.layout.part_map import draw_part_map

SHAPES = {"above": "cornered", "below": "pointed", "too few": "hollow"}
# More bars than this say nothing more.
MAX_BARS = 8
MOST_PICTURES = 4


def draw_parts(figures: TrainerFigures, checklist: Checklist, drawings: KeptDrawings) -> str:
    shares: dict[str, int | str] = {}
    counts: list[str] = []
    for part in checklist.parts:
        inspected, failed = figures.parts.get((checklist.id, part.id), (0, 0))
        if inspected:
            shares[part.id] = percent(failed / inspected) if failed else ""
            counts.append(
                phrase(
                    "%(part)s %(failed)s of %(inspected)s",
                    part=text_of(part.title),
                    failed=failed,
                    inspected=inspected,
                )
            )
    return draw_part_map(
        drawings.get(checklist), shares, counts, title=phrase("Stoves with a fault, by part")
    )


def list_group_marks(row: TeachRow) -> list[GroupMark]:
    """Apprentices, then experienced; without a group of which nothing was inspected."""
    groups = (
        (phrase("Apprentices"), row.apprentices, True),
        (phrase("Experienced"), row.experienced, False),
    )
    return [
        _mark_group(label, group, is_toned=is_toned)
        for label, group, is_toned in groups
        if group.inspected
    ]


def _mark_group(label: str, group: GroupRate, *, is_toned: bool) -> GroupMark:
    # A group of some stoves has both.
    low, high = (group.interval.low, group.interval.high) if group.interval else (0.0, 1.0)
    rate = group.rate or 0.0
    return GroupMark(label, group.failed, group.inspected, rate, low, high, is_toned)


def draw_step_groups(row: TeachRow) -> Chart:
    new, old = row.apprentices, row.experienced
    return draw_groups(
        list_group_marks(row),
        title=phrase(
            "Faults: apprentices %(new)s of %(all_new)s, experienced %(old)s of %(all_old)s",
            new=new.failed,
            all_new=new.inspected,
            old=old.failed,
            all_old=old.inspected,
        ),
        unit=phrase("share of those inspected with a fault"),
        name=f"groups-{row.checklist}-{row.step}",
        locale=get_active_locale(),
    )


def draw_step(table: StepTable) -> Chart:
    marks = [
        RateMark(
            f"{row.name} ({row.artisan})",
            row.failed,
            row.inspected,
            row.rate,
            row.low,
            row.high,
            SHAPES.get(row.mark, "round"),
        )
        for row in table.rows
    ]
    return draw_rates(
        marks,
        mean=table.mean,
        title=_say_who_differs(table),
        name=f"step-{table.checklist}-{table.step}",
        locale=get_active_locale(),
    )


def _say_who_differs(table: StepTable) -> Phrase:
    above = sum(row.mark == "above" for row in table.rows)
    if not above:
        return phrase("%(step)s: nobody is shown to be above the average", step=table.title)
    return phrase_n(
        "%(step)s: %(n)s person of %(of)s is above the average, allowing for chance",
        "%(step)s: %(n)s people of %(of)s are above the average, allowing for chance",
        above,
        step=table.title,
        of=len(table.rows),
    )


def draw_learning(step: ArtisanStep) -> Chart:
    band = step.experienced.interval
    return draw_curve(
        [_mark_run(run) for run in step.runs],
        [
            CurvePoint(point.made_before, point.rate.value, point.rate.low, point.rate.high)
            for point in step.curve
        ],
        experienced=(band.low, band.high) if band else None,
        title=_say_how_it_went(step),
        is_from_first=step.is_from_first,
        name=f"curve-{step.checklist}-{step.step}",
        locale=get_active_locale(),
    )


def _say_how_it_went(step: ArtisanStep) -> Phrase:
    """The first and the newest run; the trend is said beside, where there is one."""
    first, newest = step.runs[0].rate, step.runs[-1].rate
    if len(step.runs) == 1:
        return phrase(
            "%(step)s: %(failed)s of %(of)s with a fault",
            step=step.title,
            failed=first.failed,
            of=first.inspected,
        )
    return phrase(
        "%(step)s: %(failed)s of %(of)s with a fault in the first run, "
        "%(newest)s of %(of_newest)s in the newest",
        step=step.title,
        failed=first.failed,
        of=first.inspected,
        newest=newest.failed,
        of_newest=newest.inspected,
    )


def _mark_run(run: Run) -> RunMark:
    interval = run.rate.interval
    ends = (interval.low, interval.high) if interval else (0.0, 1.0)
    return RunMark(run.first, run.last, run.rate.failed, run.rate.inspected, *ends)


def draw_commonest(
    figures: TrainerFigures,
    step: StepFaults | None,
    drawings: KeptDrawings,
    most: int = MOST_PICTURES,
) -> list[tuple[FaultRow, str]]:
    """What the step's commonest faults look like, as far as its checklist draws it: SVG text."""
    if step is None:
        return []
    checks = [figures.checks.get(CheckRef(step.checklist, row.check_id)) for row in step.rows]
    of_step = (one for one in figures.checklists if one.id == step.checklist)
    shown = next((drawings.list_all(one) for one in of_step), {})
    drawn = [
        (row, draw_fault(check, row.fault, shown))
        for row, check in zip(step.rows[:most], checks, strict=False)
    ]
    return [(row, picture) for row, picture in drawn if picture]


def draw_faults(step: StepFaults) -> Chart:
    shown = step.rows[:MAX_BARS]
    so_far = accumulate(row.failed for row in shown)
    bars = [
        Bar(row.title, row.failed, reached, step.failed)
        for row, reached in zip(shown, so_far, strict=True)
    ]
    return draw_pareto(
        bars,
        title=phrase_n(
            "%(fault)s is the commonest fault: %(failed)s of %(n)s failed check",
            "%(fault)s is the commonest fault: %(failed)s of %(n)s failed checks",
            step.failed,
            fault=shown[0].title,
            failed=shown[0].failed,
        ),
        name=f"faults-{step.checklist}-{step.step}",
        locale=get_active_locale(),
    )
