"""Which articles are one piece: the liner that a stove's record names, the stove at each stage."""

import pytest

from qcapp.checklist.model import Checklist
from qcapp.inspection.event import stove_key
from qcapp.inspection.pieces import MadeFrom, find_made_from, join_pieces
from tests.builders import build_small_checklist

FINISHED, CLADDING, LINER = "finished/S1", "cladding/S1", "fired-liner/L1"


def build_checklist(**earlier):
    return Checklist.from_compiled({**build_small_checklist().compiled(), **earlier})


def fold(checklist, *entered):
    return {
        "inspections": [
            {"checklist_hash": checklist.hash, "stove": "S1", "body": {"made_from": made_from}}
            for made_from in entered
        ]
    }


def find(checklist, *entered):
    found = find_made_from(FINISHED, fold(checklist, *entered), {checklist.hash: checklist})
    return {link.stage: (link.from_key, link.from_serial) for link in found}


def test_the_serial_entered_last_stands_and_a_later_inspection_without_one_keeps_it():
    checklist = build_checklist(made_from=["fired-liner"])
    assert find(checklist, None) == {}
    assert find(checklist, {"fired-liner": "L1"}, None) == {
        "fired-liner": (stove_key("fired-liner", "L1"), "L1")
    }
    last = find(checklist, {"fired-liner": "L1"}, {"fired-liner": "L2"})
    assert last == {"fired-liner": (stove_key("fired-liner", "L2"), "L2")}


def test_an_earlier_stage_of_the_same_serial_needs_no_entry():
    checklist = build_checklist(same_serial=["cladding"])
    assert find(checklist, None) == {"cladding": ("cladding/S1", "S1")}


def test_checklist_without_earlier_stages_keeps_its_hash():
    assert "made_from" not in build_small_checklist().compiled()
    assert build_checklist(made_from=[]).hash == build_small_checklist().hash


@pytest.mark.parametrize(
    ("links", "pieces", "contradictions"),
    [
        ([(FINISHED, LINER)], [[LINER, FINISHED]], []),
        # Entered at bedding and again at the finished stove, which is the same one.
        (
            [(FINISHED, "bedding/S1"), ("bedding/S1", LINER), (FINISHED, LINER)],
            [["bedding/S1", LINER, FINISHED]],
            [],
        ),
        # Two stoves claim one liner: neither has it. The cladding is still the stove's own.
        (
            [(FINISHED, LINER), ("finished/S2", LINER), (FINISHED, CLADDING)],
            [[CLADDING, FINISHED]],
            [[CLADDING, LINER, FINISHED, "finished/S2"]],
        ),
        # One stove with two liners, by its records of two stages.
        (
            [(FINISHED, "bedding/S1"), ("bedding/S1", LINER), (FINISHED, "fired-liner/L2")],
            [["bedding/S1", FINISHED]],
            [["bedding/S1", LINER, "fired-liner/L2", FINISHED]],
        ),
        # Many liners come from one kiln load; that makes them no piece.
        ([(LINER, "firing/K1"), ("fired-liner/L2", "firing/K1")], [], []),
    ],
)
def test_a_piece_is_one_article_at_each_stage(links, pieces, contradictions):
    found = join_pieces(
        MadeFrom(later, *earlier.split("/")[:1], earlier, "") for later, earlier in links
    )
    assert found == ([sorted(one) for one in pieces], [sorted(one) for one in contradictions])
