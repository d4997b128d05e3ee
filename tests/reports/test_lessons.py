"""Lessons: whose stoves are compared, and when it is too early."""

from qcapp.inspection.tallies import SideCount
from qcapp.reports.lessons import Lesson, build_lesson_rows, find_windows


def inspection(_n, day, artisan="N", failed=False):
    return day, artisan, failed


def build(lessons, inspections):
    """As the store counts: inside the window, the day itself left out, nobody's stoves left out."""
    windows = find_windows(lessons)
    counts = {
        lesson.id: [
            SideCount("small-stove", artisan, day > lesson.held_on, 1, failed)
            for day, artisan, failed in inspections
            if artisan
            and windows[lesson.id][0] <= day < windows[lesson.id][1]
            and day != lesson.held_on
        ]
        for lesson in lessons
    }
    return build_lesson_rows(lessons, counts, {}, {}, min_count=20)


LESSON = Lesson("l1", "2026-11-10", "cut", ("N",), "")


def test_stoves_of_the_day_itself_are_left_out():
    (row,) = build(
        [LESSON],
        [
            inspection(1, "2026-11-09", failed=True),
            inspection(2, "2026-11-10"),
            inspection(3, "2026-11-11"),
        ],
    )
    assert (row.before.inspected, row.after.inspected) == (1, 1)


def test_second_lesson_begins_a_new_window():
    second = Lesson("l2", "2026-11-15", "cut", ("N", "M"), "")
    days = ["2026-11-05", "2026-11-12", "2026-11-13", "2026-11-20"]
    newest, oldest = build([LESSON, second], [inspection(n, day) for n, day in enumerate(days)])
    assert (oldest.before.inspected, oldest.after.inspected) == (1, 2)
    assert (newest.before.inspected, newest.after.inspected) == (2, 1)


def test_lesson_on_another_step_or_for_others_is_not_mixed_in():
    other = Lesson("l2", "2026-11-12", "cut", ("M",), "")
    inspections = [
        inspection(1, "2026-11-05"),
        inspection(2, "2026-11-20"),
        inspection(3, "2026-11-20", artisan="M"),
        inspection(4, "2026-11-20", artisan=None),
    ]
    rows = {row.lesson.id: row for row in build([LESSON, other], inspections)}
    assert rows["l1"].after.inspected == 1 and rows["l1"].others_after.inspected == 1


def test_lesson_without_a_stove_before_cannot_be_judged():
    (row,) = build([LESSON], [inspection(n, "2026-11-20") for n in range(30)])
    assert row.verdict == "no stove before" and row.change is None


def test_no_change_after_enough_stoves_is_said():
    inspections = [inspection(n, "2026-11-05", failed=n % 4 == 0) for n in range(40)] + [
        inspection(n, "2026-11-20", failed=n % 4 == 0) for n in range(40)
    ]
    (row,) = build([LESSON], inspections)
    assert row.verdict == "no change shown" and row.stoves_more > 0
