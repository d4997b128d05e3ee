"""Switching between normal, tightened and reduced inspection, and stopping."""

import pytest

from qcapp.errors import BadInput
from qcapp.stats.switching import (
    LotResult,
    SamplingRegime,
    next_inspection,
    restart,
)
from tests.stats.oracles import load_json

CASES = load_json("acceptance_switching")["test_sequences"]["cases"]


def follow_lots(lots, may_reduce=False):
    """The inspection in force after each batch of a series, from the start."""
    states = [SamplingRegime()]
    for lot in lots:
        states.append(next_inspection(states[-1], lot, may_reduce))
    return states[1:]


def regimes(letters, may_reduce=False):
    lots = [LotResult(letter != "R", letter == "G") for letter in letters]
    return [state.kind for state in follow_lots(lots, may_reduce)]


# Source: series constructed for MIL-STD-105E 4.7 (text primary). A accepted, R rejected.
@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_series_goes_through_the_regimes_written_down(case):
    assert regimes(case["lots"]) == case["state_after"]


def test_ten_accepted_batches_lead_to_reduced_only_where_it_is_wanted():
    assert regimes("A" * 10, may_reduce=True) == ["normal"] * 9 + ["reduced"]
    assert regimes("A" * 20) == ["normal"] * 20


def test_rejected_batch_breaks_the_ten():
    assert regimes("AAAAARAAAAAAAAA", may_reduce=True)[-1] == "normal"
    assert regimes("AAAAARAAAAAAAAAA", may_reduce=True)[-1] == "reduced"


@pytest.mark.parametrize("last", ["R", "G"])
def test_rejected_batch_or_one_in_the_gap_ends_reduced(last):
    assert regimes("A" * 12 + last, may_reduce=True)[-2:] == ["reduced", "normal"]


def test_unsteady_production_ends_reduced():
    assert (
        next_inspection(SamplingRegime("reduced"), LotResult(True), may_reduce=False).kind
        == "normal"
    )
    assert (
        next_inspection(SamplingRegime("reduced"), LotResult(True), may_reduce=True).kind
        == "reduced"
    )


def test_fifth_rejected_batch_on_tightened_stops_inspection_until_restarted():
    states = follow_lots([LotResult(letter == "A") for letter in "RRRARRAR"])
    assert not any(state.is_stopped for state in states)
    stopped = next_inspection(states[-1], LotResult(False))
    assert stopped.is_stopped
    with pytest.raises(BadInput):
        next_inspection(stopped, LotResult(True))
    assert restart(stopped) == SamplingRegime("tightened")


def test_rejections_before_normal_came_back_do_not_count_towards_stopping():
    states = follow_lots([LotResult(letter == "A") for letter in "RRRRRAAAAARRRRAAAAA"])
    assert not any(state.is_stopped for state in states)


def test_running_inspection_cannot_be_restarted():
    with pytest.raises(BadInput):
        restart(SamplingRegime())
