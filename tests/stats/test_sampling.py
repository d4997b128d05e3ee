"""Plan look-ups against independent transcriptions of the tables, and at their edges."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcapp.errors import BadInput
from qcapp.stats.sampling import (
    LEVELS,
    MAX_AQL,
    REGIMES,
    get_code_letter,
    get_plan,
    list_aqls,
)
from tests.stats.oracles import load_json

# Above AQL 10 the tables count faults per hundred stoves, which no plan here does.
LOOKUPS = [
    row
    for row in load_json("acceptance_examples")["lookups"]
    if float(row.get("aql", 0)) <= MAX_AQL
]
CROSSCHECK = load_json("acceptance_crosscheck")
AQLS = [aql for aql in CROSSCHECK["aql"] if float(aql) <= MAX_AQL]
SOURCES = CROSSCHECK["sources"]
# A batch size at level II for each code letter that level II gives; level III gives R as well.
LOTS = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000, 500_001)
LOT_OF = dict(zip("ABCDEFGHJKLMNPQ", LOTS, strict=True))
huge = st.integers(1, 1_000_000)


def plan_of_letter(letter, aql, stage):
    lot, level = (600_000, "III") if letter == "R" else (LOT_OF[letter], "II")
    return get_plan(lot, aql, level, stage)


# Sources named row by row in the reference file (primary, memory, constructed).
@pytest.mark.parametrize("row", LOOKUPS, ids=lambda row: f"{row['lot']}-{row['letter']}")
def test_lookup_gives_the_published_letter(row):
    assert get_code_letter(row["lot"], row["level"]) == row["letter"]


@pytest.mark.parametrize(
    "row", [row for row in LOOKUPS if "n" in row], ids=lambda row: f"{row['lot']}-{row['letter']}"
)
def test_lookup_gives_the_published_plan(row):
    plan = get_plan(row["lot"], row["aql"], row["level"], row["inspection"])
    assert (plan.letter, plan.n, plan.ac, plan.re) == (
        row["letter"],
        row["n"],
        row["ac"],
        row["re"],
    )


# Source A of the reference file (opened): n, Ac and Re of every cell, arrows followed.
@pytest.mark.parametrize("stage", REGIMES)
def test_every_cell_agrees_with_an_independent_transcription(stage):
    theirs = SOURCES["A"]["tables"][stage]
    for i, letter in enumerate(CROSSCHECK["letters"]):
        for j, aql in enumerate(AQLS):
            plan = plan_of_letter(letter, aql, stage)
            n = theirs["n"][i][j]
            assert (plan.letter, plan.ac, plan.re) == (
                letter,
                theirs["ac"][i][j],
                theirs["re"][i][j],
            )
            assert plan.n == n or (plan.every_stove and plan.n < n)


# Source B (opened): acceptance numbers; its file names the tightened diagonal on which it is wrong.
@pytest.mark.parametrize(
    ("stage", "known_slips"), [("normal", 0), ("tightened", 13), ("reduced", 0)]
)
def test_acceptance_numbers_agree_with_a_second_transcription(stage, known_slips):
    differ = [
        (letter, aql)
        for i, letter in enumerate(CROSSCHECK["letters"])
        for j, aql in enumerate(AQLS)
        if plan_of_letter(letter, aql, stage).ac != SOURCES["B"]["tables_ac"][stage][i][j]
    ]
    assert len(differ) == known_slips


# Source D (opened): rejection numbers where a plan is printed, AQL 0.65 to 10.
@pytest.mark.parametrize("stage", ["normal", "tightened"])
def test_printed_rejection_numbers_agree_with_a_third_transcription(stage):
    compared = 0
    for letter, row in SOURCES["D"][f"{stage}_re"].items():
        for aql, entry in zip(SOURCES["D"]["aql"], row.split(), strict=True):
            if entry.isdigit() and float(aql) <= MAX_AQL:
                plan = plan_of_letter(letter, aql, stage)
                assert (plan.plan_letter, plan.re) == (letter, int(entry))
                compared += 1
    assert compared >= 40


def test_arrow_changes_the_sample_as_well_as_the_acceptance_number():
    plan = get_plan(20_000, 10)
    assert (plan.letter, plan.plan_letter, plan.n, plan.ac) == ("M", "K", 125, 21)


def test_sample_not_smaller_than_the_batch_means_every_stove():
    assert get_plan(13, 1.0).every_stove
    assert get_plan(13, 1.0).n == 13
    assert not get_plan(14, 1.0).every_stove
    assert get_plan(1, 4).n == 1


@given(huge, st.sampled_from(list_aqls()), st.sampled_from(LEVELS), st.sampled_from(REGIMES))
def test_every_plan_can_be_carried_out(lot, aql, level, stage):
    plan = get_plan(lot, aql, level, stage)
    assert 1 <= plan.n <= lot
    assert plan.every_stove == (plan.n == lot)
    assert 0 <= plan.ac < plan.re
    assert plan.re == plan.ac + 1 or stage == "reduced"


@given(huge, huge, st.sampled_from(LEVELS))
def test_larger_batch_never_has_an_earlier_letter(one, other, level):
    small, large = sorted((one, other))
    assert get_code_letter(small, level) <= get_code_letter(large, level)


@given(huge, st.sampled_from(list_aqls()))
def test_tightened_inspection_is_stricter(lot, aql):
    normal, tightened = get_plan(lot, aql), get_plan(lot, aql, regime="tightened")
    assert tightened.ac <= normal.ac
    assert (tightened.n, -tightened.ac) >= (normal.n, -normal.ac) or tightened.ac < normal.ac


def test_aql_may_be_text_or_number():
    assert get_plan(500, "2.5") == get_plan(500, 2.5) == get_plan(500, "2.50")


@pytest.mark.parametrize(
    ("lot", "aql", "level", "stage", "where"),
    [
        (0, 2.5, "II", "normal", "lot"),
        (500, 3, "II", "normal", "aql"),
        (1_000_001, 2.5, "II", "normal", "lot"),
        (500, "x", "II", "normal", "aql"),
        (500, "2_5", "II", "normal", "aql"),
        (500, "nan", "II", "normal", "aql"),
        (500, "2,5", "II", "normal", "aql"),
        (500, 15, "II", "normal", "aql"),
        (500, "1000", "II", "normal", "aql"),
        (500, 2.5, "IV", "normal", "level"),
        (500, 2.5, "II", "hard", "regime"),
    ],
)
def test_refusal_names_what_is_wrong(lot, aql, level, stage, where):
    with pytest.raises(BadInput) as refusal:
        get_plan(lot, aql, level, stage)
    assert refusal.value.where == where
