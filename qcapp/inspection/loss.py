"""What a phone lost for good, told from the numbers its records carry.

A phone numbers its records 1, 2, 3 ... without gaps. A number that is not here is lost exactly
when the phone does not have the record any more either; what it still has to send is not lost.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from qcapp.i18n.phrase import phrase, phrase_n


@dataclass(frozen=True)
class Loss:
    """count: records lost for good; ranges: (first, last) of the numbers among which they are.

    is_exact: every number of the ranges is lost. When not, some of them still wait on the phone,
    and its next contacts will tell which.
    """

    count: int
    ranges: tuple[tuple[int, int], ...]
    is_exact: bool


def find_loss(numbers: Iterable[int], *, made: int, unsent: int) -> Loss | None:
    """None when nothing is lost.

    numbers: those of the phone's records that are here. made: how many the phone had made by
    its last word, unsent: how many of these it still had to send after that contact; 0 when
    the phone lost its memory, because then nothing of it will ever come.
    """
    ranges = _find_gaps(numbers, made)
    missing = sum(last - first + 1 for first, last in ranges)
    count = missing - unsent
    return Loss(count, tuple(ranges), unsent == 0) if count > 0 else None


def _find_gaps(numbers: Iterable[int], made: int) -> list[tuple[int, int]]:
    gaps, expected = [], 1
    for number in sorted({number for number in numbers if 1 <= number <= made}):
        if number > expected:
            gaps.append((expected, number - 1))
        expected = number + 1
    if expected <= made:
        gaps.append((expected, made))
    return gaps


def describe_loss(loss: Loss) -> str:
    """ "lost 4 records, numbers 118 to 121" """
    # Numbers of records are names, so they are given as text.
    numbers = [
        str(first)
        if first == last
        else phrase("%(first)s to %(last)s", first=str(first), last=str(last))
        for first, last in loss.ranges
    ]
    records = phrase_n("%(n)s record", "%(n)s records", loss.count)
    if not loss.is_exact:
        return phrase(
            "lost %(records)s, among the numbers %(numbers)s; the others still wait on the phone",
            records=records,
            numbers=numbers,
        )
    if sum(last - first + 1 for first, last in loss.ranges) == 1:
        return phrase("lost %(records)s, number %(numbers)s", records=records, numbers=numbers)
    return phrase("lost %(records)s, numbers %(numbers)s", records=records, numbers=numbers)
