"""Which items of a list stand at another place than before."""

from collections.abc import Sequence


def find_moved(old: Sequence[str], new: Sequence[str]) -> list[tuple[str, str]]:
    """(id, the id before it now or "") of as few as can be, of those that are in both."""
    places = {one: place for place, one in enumerate(old)}
    kept = [one for one in new if one in places]
    stay = _find_longest_rising([places[one] for one in kept])
    still = {kept[index] for index in stay}
    return [
        (one, new[place - 1] if (place := new.index(one)) else "")
        for one in kept
        if one not in still
    ]


def _find_longest_rising(numbers: Sequence[int]) -> set[int]:
    """Indices of a longest rising subsequence."""
    best: list[list[int]] = []
    for index, number in enumerate(numbers):
        before = [
            chain for chain, last in zip(best, range(index), strict=False) if numbers[last] < number
        ]
        best.append([*_longest(before), index])
    return set(_longest(best))


def _longest(chains: Sequence[list[int]]) -> list[int]:
    return max(chains, key=len, default=[])
