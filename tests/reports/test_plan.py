"""The agreed plan: samples that anyone can draw again, regimes that the rules require."""

import hashlib
from dataclasses import dataclass

import pytest

from qcapp.errors import BadInput
from qcapp.reports.plan import PlanRequest, build_plan_body, follow_series, read_plan
from qcapp.stats.sampling import draw_positions
from qcapp.stats.switching import SamplingRegime
from qcapp.store.queries.batch_facts import load_batch_facts
from qcapp.store.registry.batches import find_batch
from tests.builders import open_yard

AQL = {"major": "2.5", "minor": "4.0"}
HARVEST = (2, 1, 6)


@dataclass(frozen=True)
class Lot:
    result: str
    may_reduce: bool = False
    is_restart: bool = False


NORMAL = SamplingRegime()


def build(lot=90, proposed=NORMAL, **change):
    return build_plan_body(
        PlanRequest("sample", lot, aql=AQL, seed="s", **change), facts_of(open_yard()), proposed
    )


def facts_of(yard, code="B1"):
    with yard.store.reading() as connection:
        return load_batch_facts(connection, find_batch(connection, code))


# Check value worked out with the sha256sum tool: of "harvest:1" to "harvest:9" the three smallest
# digests are those of the places below.
def test_sample_is_drawn_by_the_rule_written_down():
    digests = {place: hashlib.sha256(b"harvest:%d" % place).hexdigest() for place in range(1, 10)}
    assert draw_positions(9, 3, "harvest") == tuple(sorted(digests, key=digests.get)[:3]) == HARVEST


def test_smaller_sample_is_the_beginning_of_the_larger():
    assert draw_positions(90, 20, "s")[:13] == draw_positions(90, 13, "s")
    assert sorted(draw_positions(9, 9, "s")) == list(range(1, 10))


def test_every_place_is_drawn_about_as_often_as_any_other():
    """2,000 seeds, 5 of 20 places: each place is expected 500 times,
    with a standard deviation of 19.4.
    """
    counts = [0] * 20
    for seed in range(2000):
        for place in draw_positions(20, 5, f"seed {seed}"):
            counts[place - 1] += 1
    assert all(abs(count - 500) < 5 * 19.4 for count in counts)


@pytest.mark.parametrize(("lot", "n", "seed"), [(0, 0, "s"), (5, 6, "s"), (5, 0, "s"), (5, 2, "")])
def test_sample_that_cannot_be_drawn_is_refused(lot, n, seed):
    with pytest.raises(BadInput):
        draw_positions(lot, n, seed)


# Plans of the batch size 91 to 150 at level II: letter F, n 20; AQL 2.5: Ac 1, AQL 4.0: Ac 2
# (MIL-STD-105E, II-A).
def test_sample_has_the_tables_numbers_and_serials_as_the_phone_names_them():
    body = build(lot=120)
    assert [
        (limit["severity"], limit["n"], limit["ac"], limit["re"]) for limit in body["limits"]
    ] == [("critical", 120, 0, 1), ("major", 20, 1, 2), ("minor", 20, 2, 3)]
    assert body["sample"] == [f"B1-{place:03}" for place in draw_positions(120, 20, "s")]
    assert (body["letter"], body["regime"], body["level"]) == ("F", "normal", "II")


def test_arrow_gives_major_and_minor_samples_of_their_own_one_inside_the_other():
    body = build(lot=90)
    assert [limit["n"] for limit in body["limits"]] == [90, 20, 13]
    assert len(body["sample"]) == 20


def test_sample_not_smaller_than_the_batch_becomes_every_stove():
    body = build(lot=5)
    assert body["inspect"] == "every" and body["sample"] == [] and body["regime"] is None


def test_without_an_agreed_plan_every_planned_stove_is_inspected():
    plan = read_plan(facts_of(open_yard()))
    assert (plan.inspect, plan.lot, plan.agreed_by) == ("every", 20, None)


def test_milder_inspection_than_the_rules_ask_is_refused_and_stricter_taken():
    with pytest.raises(BadInput):
        build(proposed=SamplingRegime("tightened"), regime="normal")
    with pytest.raises(BadInput):
        build(regime="reduced")
    assert build(regime="tightened")["regime"] == "tightened"


def test_fewer_stoves_than_are_inspected_already_are_refused():
    yard = open_yard()
    yard.push(*(yard.phone.inspect(f"B1-{n:03}") for n in range(1, 4)))
    with pytest.raises(BadInput):
        build_plan_body(PlanRequest("every", 2), facts_of(yard), SamplingRegime())


# MIL-STD-105E 4.7: two of five rejected tighten; five accepted lead back; ten accepted may reduce.
def test_series_of_decided_batches_follows_the_switching_rules():
    assert (
        follow_series([Lot("accepted")] * 3 + [Lot("rejected"), Lot("rejected")]).kind
        == "tightened"
    )
    assert follow_series([Lot("rejected")] * 2 + [Lot("accepted")] * 5).kind == "normal"
    assert follow_series([Lot("accepted")] * 10).kind == "normal"
    assert (
        follow_series([Lot("accepted")] * 10 + [Lot("accepted", may_reduce=True)]).kind == "reduced"
    )
    assert (
        follow_series([Lot("accepted", may_reduce=True)] * 10 + [Lot("gap", may_reduce=True)]).kind
        == "normal"
    )


def test_reduced_is_open_only_to_who_says_that_production_is_steady():
    ten = follow_series([Lot("accepted")] * 10)
    assert build(proposed=ten)["regime"] == "normal"
    assert build(proposed=ten, may_reduce=True)["regime"] == "reduced"
    assert build(proposed=SamplingRegime("reduced"))["regime"] == "normal"


def test_stopped_inspection_starts_again_tightened_when_the_making_was_mended():
    stopped = follow_series([Lot("rejected")] * 7)
    assert stopped.is_stopped
    with pytest.raises(BadInput):
        build(proposed=stopped)
    assert build(proposed=stopped, is_restart=True)["regime"] == "tightened"
    assert (
        follow_series([Lot("rejected")] * 7 + [Lot("accepted", is_restart=True)]).kind
        == "tightened"
    )
