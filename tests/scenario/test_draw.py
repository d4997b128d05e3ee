"""How answers come about: the figure that is judged, practice, planted causes, repairs."""

from collections import Counter
from random import Random
from statistics import mean, pstdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcapp.checklist.check_kinds import MeasureCheck, TickCheck
from qcapp.inspection.number import parse_number
from qcapp.scenario.draw import AnswerDrawer, Maker, canonical_reading, spread_readings
from qcapp.scenario.model import Habits, Planted, ScenarioPerson

ABOUT = {
    "part": "door",
    "step": "cut-door",
    "severity": "major",
    "ask": {"en": "Wide?"},
    "how": {"en": "Rule"},
    "caution": None,
    "basis": "placeholder",
    "when": {},
}
FAULTS = [{"id": "wrong", "title": {"en": "Wrong"}, "side": None}]
LIMITS = {"lower": 97, "nominal": 100, "upper": 103, "accept_lower": 97, "accept_upper": 103}
HABITS = Habits(practised_stoves=300, learning=0.5, fault_rate=0.05, spread_share=0.3)
PERSON = ScenarioPerson(code="A01", name="Odrin")


def make_measure(resolution=0.1) -> MeasureCheck:
    scale = {"unit": "mm", "resolution": resolution, "uncertainty": 0, "decision": "simple"}
    possible = {"lower": 0, "upper": 400}
    return MeasureCheck.model_validate(
        {
            "id": "width",
            "kind": "measure",
            "faults": [],
            "possible": possible,
            "limits": {"medium": LIMITS},
            **ABOUT,
            **scale,
        }
    )


def make_tick() -> TickCheck:
    return TickCheck.model_validate({"id": "swing", "kind": "tick", "faults": FAULTS, **ABOUT})


def make_drawer(*planted, days_ago=5, repaired=False, seed=1) -> AnswerDrawer:
    return AnswerDrawer(Random(seed), HABITS, planted, "medium", days_ago, repaired)


def draw_widths(drawer, made=300, count=2000) -> list[float]:
    return [
        float(drawer.draw(make_measure(), Maker(PERSON, made))["values"][0]) for _ in range(count)
    ]


def draw_fault_share(drawer, made, count=4000) -> float:
    marks = Counter(drawer.draw(make_tick(), Maker(PERSON, made))["mark"] for _ in range(count))
    return marks["fail"] / count


@given(
    st.sampled_from(["smallest", "largest", "mean", "range"]),
    st.integers(2, 12),
    st.floats(1, 300),
    st.floats(0, 10),
    st.integers(0, 2**32),
)
def test_readings_have_the_figure_they_were_made_for(by, n, figure, spread, seed):
    values = spread_readings(Random(seed), by, n, figure, spread, 100.0)
    found = {
        "smallest": min,
        "largest": max,
        "mean": mean,
        "range": lambda own: max(own) - min(own),
    }[by](values)
    assert len(values) == n
    assert found == pytest.approx(figure, abs=1e-6)


@given(st.floats(-50, 900), st.sampled_from([1, 0.5, 0.25, 0.1, 0.05, 5]))
def test_reading_is_written_as_typed_and_lies_on_the_tool_s_steps(value, resolution):
    text = canonical_reading(value, make_measure(resolution))
    assert parse_number(text) == text
    assert 0 <= float(text) <= 400
    assert float(text) / resolution == pytest.approx(round(float(text) / resolution))


def test_practised_artisan_scatters_by_the_share_of_the_habits():
    widths = draw_widths(make_drawer())
    assert mean(widths) == pytest.approx(100, abs=0.1)
    assert pstdev(widths) == pytest.approx(0.3 * 3, rel=0.1)


def test_beginner_scatters_more_than_a_practised_artisan():
    assert pstdev(draw_widths(make_drawer(), made=0)) > 1.5 * pstdev(
        draw_widths(make_drawer(), made=300)
    )


def test_fault_odds_fall_with_the_stoves_made():
    shares = [draw_fault_share(make_drawer(), made) for made in (0, 30, 300)]
    assert shares[0] > shares[1] > shares[2]
    assert shares[2] == pytest.approx(0.05, abs=0.012)


def test_shift_moves_readings_of_the_named_artisan_only():
    cause = Planted(id="wide", about="", check="width", artisans=("A01",), shift=2)
    other = Planted(id="wide", about="", check="width", artisans=("A02",), shift=2)
    assert mean(draw_widths(make_drawer(cause))) == pytest.approx(102, abs=0.1)
    assert mean(draw_widths(make_drawer(other))) == pytest.approx(100, abs=0.1)


def test_drift_begins_on_its_day_and_grows():
    cause = Planted(
        id="worn", about="", check="width", artisans=("A01",), from_days_ago=30, drift_per_day=0.1
    )
    before, first, later = (
        mean(draw_widths(make_drawer(cause, days_ago=days))) for days in (31, 30, 10)
    )
    assert before == pytest.approx(100, abs=0.1)
    assert first == pytest.approx(100, abs=0.1)
    assert later == pytest.approx(102, abs=0.1)


def test_planted_odds_raise_a_fault_by_eye():
    cause = Planted(id="loose", about="", check="swing", artisans=("A01",), odds_times=6)
    assert draw_fault_share(make_drawer(cause), 300) > 3 * draw_fault_share(make_drawer(), 300)


def test_repair_is_free_of_planted_causes():
    cause = Planted(id="wide", about="", check="width", artisans=("A01",), shift=2)
    assert mean(draw_widths(make_drawer(cause, repaired=True))) == pytest.approx(100, abs=0.1)
