"""A number is lost exactly when the record is neither here nor on its phone any more."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcapp.inspection.loss import Loss, describe_loss, find_loss


@pytest.mark.parametrize(
    ("numbers", "made", "unsent", "expected"),
    [
        ([], 0, 0, None),
        ([1, 2, 3], 3, 0, None),
        ([1, 2], 5, 3, None),
        ([1, 4], 4, 2, None),
        (range(1, 118), 121, 0, Loss(4, ((118, 121),), True)),
        ([1, 3, 4, 7], 8, 0, Loss(4, ((2, 2), (5, 6), (8, 8)), True)),
        ([1, 3], 5, 2, Loss(1, ((2, 2), (4, 5)), False)),
        ([3, 3, 2, 0, 99], 3, 0, Loss(1, ((1, 1),), True)),
    ],
)
def test_missing_numbers_beyond_what_still_waits_are_lost(numbers, made, unsent, expected):
    assert find_loss(numbers, made=made, unsent=unsent) == expected


@pytest.mark.parametrize(
    ("loss", "words"),
    [
        (Loss(4, ((118, 121),), True), "lost 4 records, numbers 118 to 121"),
        (Loss(1, ((7, 7),), True), "lost 1 record, number 7"),
        (Loss(3, ((2, 2), (5, 6)), True), "lost 3 records, numbers 2, 5 to 6"),
        (
            Loss(1, ((2, 2), (4, 5)), False),
            "lost 1 record, among the numbers 2, 4 to 5; the others still wait on the phone",
        ),
    ],
)
def test_loss_is_said_with_its_numbers(loss, words):
    assert describe_loss(loss) == words


fates = st.lists(st.sampled_from(("here", "waits", "lost")), max_size=40)


@given(fates)
def test_gap_exists_exactly_when_a_record_was_lost(fates):
    """For any fate of each record, in any order: counted exactly,
    and named exactly once nothing waits.
    """
    by_fate = {
        fate: [number for number, one in enumerate(fates, 1) if one == fate]
        for fate in ("here", "waits", "lost")
    }
    loss = find_loss(reversed(by_fate["here"]), made=len(fates), unsent=len(by_fate["waits"]))
    if not by_fate["lost"]:
        assert loss is None
        return
    named = [number for first, last in loss.ranges for number in range(first, last + 1)]
    assert loss.count == len(by_fate["lost"]) and set(by_fate["lost"]) <= set(named)
    assert loss.is_exact == (named == by_fate["lost"])
