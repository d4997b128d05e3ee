"""What photos proposed beside what was recorded, with planted values."""

from statistics import stdev

import pytest

from qcapp.checklist.model import Checklist
from qcapp.reports.photo_figures import compare_photo_figures, list_photo_figures
from tests.inspection.checks import complete_compiled
from tests.photo_yard import COUNT, MARGIN, RIM, take

WIDTH = {**MARGIN, "id": "size", "by": "mean", "figure": "width"}
CHECKLIST = Checklist.from_compiled(
    complete_compiled([COUNT, MARGIN, WIDTH, RIM], id="fired", stage="fired-liner")
)


def read(**answers):
    body = {"size": "medium", "batch_attributes": {}, "answers": answers}
    return list_photo_figures(CHECKLIST, body)


def margin(proposed, *values, is_taken=False, uncertainty="0.4"):
    kept = take("margin", is_taken=is_taken, margin={"value": proposed, "uncertainty": uncertainty})
    (found,) = read(margin={"values": list(values), **kept})
    return found


def test_answers_without_a_photo_are_none_of_these():
    assert read(margin={"values": ["14", "15"]}, holes={"values": ["19"]}) == []


def test_every_figure_stands_beside_its_own_check():
    widths = [{"value": "16.0", "uncertainty": "0.2"}, {"value": "15.5", "uncertainty": "0.3"}]
    found = read(
        holes={"values": ["18"], **take(is_taken=False)},
        margin={"values": ["12.3"], **take("margin")},
        size={"values": ["16", "17"], **take(is_taken=False, widths=widths)},
    )
    told = {one.figure: (one.proposed, one.uncertainty, one.value, one.difference) for one in found}
    assert told == {
        "count": (19.0, None, 18.0, -1.0),
        "margin": (12.3, 0.4, 12.3, None),
        "width": (15.8, 0.3, 16.5, pytest.approx(0.7)),
    }
    assert [one.is_beyond for one in found] == [True, False, False]


def test_difference_beyond_both_uncertainties_is_told():
    # hypot(0.4, 0.8) = 0.894...
    beyond = {
        value: margin("12.0", value, "20").is_beyond for value in ("12.8", "12.9", "11.2", "11.1")
    }
    assert beyond == {"12.8": False, "12.9": True, "11.2": False, "11.1": True}


def test_counts_mean_and_spread_of_planted_differences():
    typed = {"12.0": "13", "11.0": "10.5", "13.5": "13.5", "12.4": "13.9"}
    found = [margin(proposed, value, "30") for proposed, value in typed.items()]
    found += [margin(f"1{n}.5", f"1{n}.5", is_taken=True) for n in range(5)]
    found.append(margin("12.0"))
    found += read(holes={"values": ["19"], **take()})
    count, row = compare_photo_figures(found)
    assert (count.figure, count.proposals, count.taken, count.mean) == ("count", 1, 1, None)
    differences = [1.0, -0.5, 0.0, 1.5]
    assert (row.figure, row.proposals, row.taken, row.typed) == ("margin", 10, 5, 4)
    assert (row.without_value, row.same, row.beyond) == (1, 1, 2)
    assert row.mean == pytest.approx(0.5) and row.spread == pytest.approx(stdev(differences))
    assert (row.least, row.most) == (pytest.approx(-0.5), pytest.approx(1.5))


def test_one_difference_has_no_spread():
    (row,) = compare_photo_figures([margin("12.0", "13", "30")])
    assert (row.mean, row.spread) == (pytest.approx(1.0), None)
