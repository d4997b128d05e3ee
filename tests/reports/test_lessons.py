"""Lessons: whose stoves are compared, and when it is too early."""

import numpy as np

from qcapp.inspection.report_counts import SideCount
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
    assert row.verdict == "no change shown" and row.stoves_more.low > 0


def repeat(day, artisan, failed, inspected):
    return [inspection(n, day, artisan, n < failed) for n in range(inspected)]


def test_each_of_the_taught_is_held_against_himself():
    """Simpson's paradox: neither changed, but after the lesson the better one made more stoves."""
    lesson = Lesson("l1", "2026-11-10", "cut", ("N", "M"), "")
    stoves = [
        *repeat("2026-11-05", "N", 40, 80),
        *repeat("2026-11-05", "M", 1, 20),
        *repeat("2026-11-20", "N", 10, 20),
        *repeat("2026-11-20", "M", 4, 80),
    ]
    (row,) = build([lesson], stoves)
    assert row.after.rate < row.before.rate / 2
    assert abs(row.change.value) < 1e-9 and row.verdict == "no change shown"
    assert [one.artisan for one in row.who] == ["M", "N"]


def test_taught_who_change_like_the_others_are_said_to():
    """Everybody got better: the lesson need not be the cause."""
    people = ("N", "M", "A", "B", "C", "D")
    stoves = [
        one
        for code in people
        for one in (*repeat("2026-11-05", code, 15, 50), *repeat("2026-11-20", code, 4, 50))
    ]
    lesson = Lesson("l1", "2026-11-10", "cut", people[:2], "")
    (row,) = build([lesson], stoves)
    assert row.verdict == "fewer faults" and row.against_others.says == "not shown"
    assert row.against_others.others == 4


def test_taught_who_change_more_than_many_others_are_said_to():
    people = tuple("ABCDEFGHIJKL")
    stoves = [
        one
        for place, code in enumerate(people)
        for one in (
            *repeat("2026-11-05", code, 20, 60),
            *repeat("2026-11-20", code, 2 if place < 4 else 20, 60),
        )
    ]
    (row,) = build([Lesson("l1", "2026-11-10", "cut", people[:4], "")], stoves)
    assert row.against_others.says == "more" and row.against_others.p < 0.01


def test_without_two_others_nothing_is_said_of_the_cause():
    stoves = [*repeat("2026-11-05", "N", 20, 40), *repeat("2026-11-20", "N", 2, 40)]
    stoves += [*repeat("2026-11-05", "A", 2, 40), *repeat("2026-11-20", "A", 2, 40)]
    (row,) = build([LESSON], stoves)
    assert row.verdict == "fewer faults" and row.against_others is None


def test_forecast_of_a_lesson_is_a_range_and_absent_from_fewer_than_twenty():
    def find(before):
        stoves = [*repeat("2026-11-05", "N", 4, before), *repeat("2026-11-20", "N", 1, 20)]
        return build([LESSON], stoves)[0].stoves_more

    assert find(19) is None
    assert 0 < find(40).low < find(40).high


def test_people_who_change_by_themselves_are_not_taken_for_a_lessons_work():
    """No lesson does anything, but each person's odds change by a factor of e or so: one in
    twenty says that the taught changed otherwise; of 150 more than 15 in fewer than one in 100.
    """
    rng = np.random.default_rng(5)
    lesson, wrong = Lesson("l1", "2026-11-10", "cut", ("P0", "P1"), ""), 0
    for _ in range(150):
        counts = []
        for place in range(6):
            before, change = rng.normal(-1.5, 0.7), rng.normal(0, 1)
            for is_after in (False, True):
                failed = int(rng.binomial(60, 1 / (1 + np.exp(-before - is_after * change))))
                counts.append(SideCount("small-stove", f"P{place}", is_after, 60, failed))
        (row,) = build_lesson_rows([lesson], {"l1": counts}, {}, {}, min_count=20)
        wrong += row.against_others.says != "not shown"
    assert wrong <= 15


def test_work_more_than_half_a_year_away_is_not_held_against_a_lesson():
    near, far = ("2026-05-14", "2027-05-08"), ("2026-05-13", "2027-05-09")
    (row,) = build([LESSON], [inspection(n, day, failed=True) for n, day in enumerate(near + far)])
    assert (row.before.inspected, row.after.inspected) == (1, 1)
