"""Parts placed on a drawing: at the numbers given, once each, in a drawing that is let in again."""

import pytest

from qcapp.checklist.drawing import read_drawing_ids
from qcapp.checklist.part_marks import (
    Mark,
    ViewBox,
    list_marks,
    place_part,
    prepare_drawing,
    read_view_box,
)
from qcapp.errors import BadInput

PLAIN = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 300 200"><path d="M0 0h9"/></svg>'


def test_part_stands_where_it_was_placed_and_moves_when_placed_again(tmp_path):
    once = place_part(PLAIN, Mark("door", 120, 80.5, 30))
    assert list_marks(once) == [Mark("door", 120, 80.5, 30)]
    twice = place_part(place_part(once, Mark("leg", 10, 190, 20)), Mark("door", 200, 90, 40))
    assert sorted(list_marks(twice), key=lambda mark: mark.part) == [
        Mark("door", 200, 90, 40),
        Mark("leg", 10, 190, 20),
    ]
    path = tmp_path / "own.svg"
    path.write_text(twice)
    assert read_drawing_ids(path) == {"door", "leg"}


@pytest.mark.parametrize(
    ("x", "y", "width"), [(301, 10, 5), (-1, 10, 5), (10, 200.5, 5), (10, 10, 0), (10, 10, 301)]
)
def test_place_beside_the_drawing_is_refused_with_its_numbers(x, y, width):
    with pytest.raises(BadInput) as found:
        place_part(PLAIN, Mark("door", x, y, width))
    assert "0 to 300" in str(found.value.todo) and "0 to 200" in str(found.value.todo)


def test_part_that_is_drawn_stays_as_it_is():
    drawn = PLAIN.replace("<path", '<path id="door"')
    with pytest.raises(BadInput, match="outline"):
        place_part(drawn, Mark("door", 10, 10, 5))


def test_drawing_gets_a_size_that_pages_and_phones_are_made_for():
    large = PLAIN.replace('viewBox="0 0 300 200"', 'width="1700mm" height="850mm"')
    ready = prepare_drawing(large)
    assert read_view_box(ready) == ViewBox(0, 0, 340, 170)
    assert 'transform="scale(0.2) translate(0 0)"' in ready and "width=" not in ready.split(">")[0]
    assert read_view_box(prepare_drawing(PLAIN)) == ViewBox(0, 0, 300, 200)
    with pytest.raises(BadInput, match="how large"):
        prepare_drawing(PLAIN.replace(' viewBox="0 0 300 200"', ""))
