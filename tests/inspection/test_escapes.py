"""Which stage let a fault through: worked by hand, and counted again in another way."""

from hypothesis import given
from hypothesis import strategies as st

from qcapp.inspection.escapes import Look, Passage, Piece, find_pieces, list_passages
from qcapp.inspection.pieces import MadeFrom

SHELL, BEDDED, STOVE, LINER, LOAD = (
    *("cladding/s1", "bedding/s1", "finished/s1"),
    *("fired-liner/l1", "firing/k1"),
)
PIECE = Piece((SHELL, BEDDED, STOVE, LINER), LOAD)
CAUGHT_BY = {
    ("stove", "holes"): {"bedding": ["holes"], "fired-liner": ["holes"]},
    ("stove", "joints"): {"cladding": ["seam", "waist"]},
    ("liner", "hard"): {"firing": ["heat"]},
}


def look(key, check, day, *, failed=False, first=True):
    checklist = {SHELL: "shell", BEDDED: "bedding", STOVE: "stove", LINER: "liner", LOAD: "load"}
    at = f"2026-11-{day:02}T08:00:00.000Z"
    return Look(key, checklist[key], check, at, first, failed)


def passages(*looks: Look) -> list[tuple[str, str, bool]]:
    """(earlier stage, later check, is it an escape)"""
    by_key: dict[str, list[Look]] = {}
    for one in sorted(looks, key=lambda one: one.captured_at):
        by_key.setdefault(one.key, []).append(one)
    found: list[Passage] = list(list_passages(PIECE, by_key, CAUGHT_BY))
    return [(one.earlier.checklist, one.later.check, one.is_escape) for one in found]


def test_a_fault_counts_for_the_last_stage_that_looked():
    fired, bedded = look(LINER, "holes", 3), look(BEDDED, "holes", 5)
    found = look(STOVE, "holes", 9, failed=True)
    assert passages(fired, bedded, found) == [("bedding", "holes", True)]
    # Nobody looked at it in bedding, so the fired liner is the last one.
    assert passages(fired, found) == [("liner", "holes", True)]
    assert passages(found) == []


def test_a_pass_that_lasted_is_in_the_denominator_alone():
    assert passages(look(LINER, "holes", 3), look(STOVE, "holes", 9)) == [("liner", "holes", False)]


def test_what_the_earlier_stage_had_failed_was_known():
    found = look(STOVE, "holes", 9, failed=True)
    conceded = look(BEDDED, "holes", 5, failed=True)
    assert passages(conceded, found) == []
    # Also where an earlier stage had passed it: bedding looked last, and said so.
    assert passages(look(LINER, "holes", 3), conceded, found) == []
    # Repaired and looked at again, it was passed after all.
    again = look(BEDDED, "holes", 6, first=False)
    assert passages(conceded, again, found) == [("bedding", "holes", True)]


def test_only_what_came_before_the_later_first_inspection_counts():
    found = look(STOVE, "holes", 9, failed=True)
    assert passages(found, look(BEDDED, "holes", 10)) == []
    # At its second inspection a stove shows what its rework made.
    ok, later = look(STOVE, "holes", 9), look(STOVE, "holes", 11, failed=True, first=False)
    assert passages(look(BEDDED, "holes", 5), ok, later) == [("bedding", "holes", False)]


def test_a_stage_must_have_looked_at_all_that_would_show_the_fault():
    found = look(STOVE, "joints", 9, failed=True)
    seam, waist = look(SHELL, "seam", 2), look(SHELL, "waist", 2)
    assert passages(seam, found) == []
    assert passages(seam, waist, found) == [("shell", "joints", True)]
    assert passages(seam, look(SHELL, "waist", 2, failed=True), found) == []


def test_a_kiln_load_is_an_earlier_stage_of_the_liners_that_were_in_it():
    soft = look(LINER, "hard", 4, failed=True)
    assert passages(look(LOAD, "heat", 2), soft) == [("load", "hard", True)]


def test_pieces_are_joined_by_what_records_say():
    links = [
        MadeFrom(STOVE, "fired-liner", LINER, "L1"),
        MadeFrom(STOVE, "cladding", SHELL, "S1"),
        MadeFrom(LINER, "firing", LOAD, "K1"),
        MadeFrom("fired-liner/l2", "firing", LOAD, "K1"),
    ]
    found = {one.keys: one.load for one in find_pieces(links, [STOVE, "fired-liner/l2"])}
    assert found == {(SHELL, STOVE, LINER): LOAD, ("fired-liner/l2",): LOAD}
    # Two stoves claim one liner: neither is joined, and each stands alone.
    twice = [*links[:1], MadeFrom("finished/s2", "fired-liner", LINER, "L1")]
    assert find_pieces(twice, [STOVE]) == [Piece((STOVE,))]


STAGES = ("finished/s1", "bedding/s1", "fired-liner/l1")
SEEN = st.lists(
    st.tuples(st.sampled_from(STAGES), st.integers(1, 28), st.booleans()),
    max_size=8,
    unique_by=lambda one: one[1],
)


@given(SEEN)
def test_it_is_what_a_plain_recount_says(seen):
    """By walking the days one after the other, as a person with the cards in hand would."""
    looks, first = [], set()
    for key, day, failed in sorted(seen, key=lambda one: one[1]):
        name = {"finished/s1": STOVE, "bedding/s1": BEDDED, "fired-liner/l1": LINER}[key]
        looks.append(look(name, "holes", day, failed=failed, first=key not in first))
        first.add(key)
    expected = []
    on_the_way = None
    for one in looks:
        if one.key == STOVE:
            if one.is_first_pass and on_the_way and not on_the_way.failed:
                expected.append((on_the_way.checklist, "holes", one.failed))
        else:
            on_the_way = one
    assert passages(*looks) == expected
