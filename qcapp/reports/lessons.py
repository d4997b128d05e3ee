"""Did the lesson help: the taught artisans before and after it, beside those not taught."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.report_counts import SideCount
from qcapp.reports.groups import GroupRate, People, build_rate
from qcapp.reports.lesson_evidence import (
    OthersChange,
    PersonChange,
    StovesMore,
    compare_with_others,
    find_change,
    find_stoves_more,
    list_changes,
)
from qcapp.stats.interval import Estimate

NEAR_DAYS = 180
TOO_EARLY, NO_CHANGE = phrase("too early"), phrase("no change shown")


@dataclass(frozen=True)
class Lesson:
    """held_on: ISO date; people: codes of the artisans taught; step: its id in every checklist that
    inspects this piece of work.
    """

    id: str
    held_on: str
    step: str
    people: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class LessonRow:
    """One lesson as one checklist's inspections show it; checklist "" where none does yet.

    change: after minus before in the stoves of the taught, each held against himself or herself
    (Mantel-Haenszel over people); it is about these people. who: the taught with stoves on both
    sides, each with both counts.

    verdict: fewer faults, more faults, no change shown, too early, no stove before.
    others_before, others_after: artisans not taught, for what changed without the lesson.
    against_others: whether the taught changed otherwise than those, people as the unit; None
    without two of them. stoves_more: of the taught, after the lesson, until it can be told; None
    when it can, or when nothing can be said of it.
    """

    lesson: Lesson
    checklist: str
    title: str
    names: tuple[str, ...]
    before: GroupRate
    after: GroupRate
    others_before: GroupRate
    others_after: GroupRate
    who: tuple[PersonChange, ...]
    change: Estimate | None
    against_others: OthersChange | None
    verdict: str
    stoves_more: StovesMore | None


def build_lesson_rows(
    lessons: Iterable[Lesson],
    counts: Mapping[str, Sequence[SideCount]],
    steps: Mapping[StepRef, Step],
    people: People,
    *,
    min_count: int,
) -> list[LessonRow]:
    """Newest lesson first; a row for each checklist by which stoves of the taught were inspected.

    counts: by lesson, of the lesson's step, from inside its window (find_windows).

    Stoves inspected on the day itself may have been made before the lesson: they are in neither
    side.
    """
    ordered = sorted(lessons, key=lambda lesson: (lesson.held_on, lesson.id))
    return [
        _build_row(lesson, checklist, counts[lesson.id], steps, people, min_count)
        for lesson in ordered[::-1]
        for checklist in _list_checklists(lesson, counts[lesson.id])
    ]


def _list_checklists(lesson: Lesson, counts: Sequence[SideCount]) -> list[str]:
    return sorted({one.checklist for one in counts if one.artisan in lesson.people}) or [""]


def find_windows(lessons: Iterable[Lesson]) -> dict[str, tuple[str, str]]:
    """(first day, day after the last) of each lesson, ISO: half a year to either side, because
    work of other years was done with other sheet, tools and people. It ends where the next lesson
    on the same step for any of the same people begins, so that two do not share their stoves.
    """
    ordered = list(lessons)
    return {lesson.id: _find_window(lesson, ordered) for lesson in ordered}


def _build_row(
    lesson: Lesson,
    checklist: str,
    counts: Sequence[SideCount],
    steps: Mapping[StepRef, Step],
    people: People,
    min_count: int,
) -> LessonRow:
    here = [one for one in counts if one.checklist == checklist]
    taught_before, taught_after, others_before, others_after = (
        _sum_side(here, lesson, is_taught=is_taught, is_after=is_after)
        for is_taught in (True, False)
        for is_after in (False, True)
    )
    changes = list_changes(here, people)
    taught = [one for one in changes if one.artisan in lesson.people]
    others = [one for one in changes if one.artisan not in lesson.people]
    change = find_change(taught)
    return LessonRow(
        lesson=lesson,
        checklist=checklist,
        title=_find_title(lesson.step, checklist, steps),
        names=tuple(people.get(code, {}).get("name", code) for code in lesson.people),
        before=taught_before,
        after=taught_after,
        others_before=others_before,
        others_after=others_after,
        who=tuple(taught),
        change=change,
        against_others=compare_with_others(taught, others),
        verdict=(verdict := _word(taught_before, taught_after, change, min_count)),
        stoves_more=find_stoves_more(taught_before, taught_after, min_count)
        if verdict in (TOO_EARLY, NO_CHANGE)
        else None,
    )


def _find_title(step: str, checklist: str, steps: Mapping[StepRef, Step]) -> str:
    """As this checklist has it, or any one where no stove says which."""
    found = steps.get(StepRef(checklist, step)) or next(
        (known for ref, known in steps.items() if ref.step == step), None
    )
    return text_of(found.title) if found else step


def _find_window(lesson: Lesson, lessons: Sequence[Lesson]) -> tuple[str, str]:
    related = [
        one for one in lessons if one.step == lesson.step and set(one.people) & set(lesson.people)
    ]
    earlier = [one.held_on for one in related if one.held_on < lesson.held_on]
    later = [one.held_on for one in related if one.held_on > lesson.held_on]
    held_on = date.fromisoformat(lesson.held_on)
    first, last = held_on - timedelta(NEAR_DAYS), held_on + timedelta(NEAR_DAYS)
    return max([first.isoformat(), *earlier]), min([last.isoformat(), *later])


def _sum_side(
    counts: Sequence[SideCount], lesson: Lesson, *, is_taught: bool, is_after: bool
) -> GroupRate:
    own = [
        one
        for one in counts
        if (one.artisan in lesson.people) == is_taught and one.is_after == is_after
    ]
    return build_rate(sum(one.inspected for one in own), sum(one.failed for one in own))


def _word(before: GroupRate, after: GroupRate, change: Estimate | None, min_count: int) -> str:
    if before.inspected == 0:
        return phrase("no stove before")
    if after.inspected < min_count:
        return TOO_EARLY
    if change and change.high < 0:
        return phrase("fewer faults")
    return phrase("more faults") if change and change.low > 0 else NO_CHANGE
