"""Commands over a CSV of readings or verdicts,
held against the published figures of tests/reference.
"""

import csv
import json

import pytest

from qcapp.cli.main import app
from qcapp.errors import BadInput
from tests.cli.test_cli import run
from tests.stats.oracles import load_csv, load_json

CHARTS = load_json("control_charts")


@pytest.fixture
def write(tmp_path):
    def write_rows(columns: str, rows) -> str:
        path = tmp_path / "given.csv"
        with path.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([columns.split(","), *rows])
        return str(path)

    return write_rows


@pytest.fixture
def answer(capsys):
    """The command in this process: starting thirty more would only cost time."""

    def call(*words) -> dict:
        app([*map(str, words)], standalone_mode=False)
        return json.loads(capsys.readouterr().out)

    return call


def write_values(write, values):
    return write("value", [[value] for value in values])


# Sources of the chart figures: NIST/SEMATECH e-Handbook 6.3.2 and 6.3.3 (secondary).
def test_p_chart_is_the_published_one(write, answer):
    case = CHARTS["p_chart_constant_n"]
    file = write("faults,inspected", [[failed, case["n"]] for failed in case["defectives"]])
    found = answer("chart", file, "--kind", "p")
    assert found["centre"] == pytest.approx(case["centre"], abs=5e-5)
    assert found["points"][0]["high"] == pytest.approx(case["ucl"], abs=5e-5)
    assert found["points"][0]["low"] == pytest.approx(case["lcl"], abs=5e-5)
    assert found["out"] == case["out_points"] and {"rule": 1, "row": 15} in found["signals"]
    assert answer("chart", file, "--kind", "p", "--laney")["spread"] > 1


def test_individuals_chart_is_the_published_one(write, answer):
    case = CHARTS["individuals"]
    found = answer("chart", write_values(write, case["x"]), "--kind", "individuals")
    assert found["centre"] == pytest.approx(case["mean"], abs=5e-5)
    # The printed limits were made with a constant of three decimals.
    assert found["points"][0]["high"] == pytest.approx(case["ucl"], abs=2e-3)
    assert found["moving_range"]["centre"] == pytest.approx(case["mr_bar"], abs=5e-5)
    assert found["out"] == case["out_points"] == [] and len(found["moving_range"]["points"]) == 9


def test_ewma_chart_is_the_published_one(write, answer):
    case = CHARTS["ewma"]
    found = answer(
        "chart",
        write_values(write, case["x"]),
        "--kind",
        "ewma",
        "--target",
        case["start"],
        "--sigma",
        case["s"],
        "--weight",
        case["lambda"],
    )
    # The page rounds every step to two decimals and goes on with the rounded one.
    assert [point["value"] for point in found["points"]] == pytest.approx(case["ewma"], abs=0.02)
    assert (
        found["points"][-1]["high"] == pytest.approx(case["ucl"], abs=2e-3) and found["out"] == []
    )


def test_cusum_is_the_published_one(write, answer):
    case = CHARTS["cusum"]
    found = answer(
        "chart",
        write_values(write, case["x"]),
        "--kind",
        "cusum",
        "--target",
        case["target"],
        "--slack",
        case["k"],
        "--decision",
        case["h"],
    )
    assert found["above"] == pytest.approx(case["s_hi"], abs=0.006) and found[
        "below"
    ] == pytest.approx(case["s_lo"], abs=0.006)
    assert found["first_signal"] == case["first_signal"]


def test_cusum_without_a_plan_takes_it_from_the_readings(write, answer):
    found = answer("chart", write_values(write, CHARTS["individuals"]["x"]), "--kind", "cusum")
    assert (found["slack"], found["decision"]) == pytest.approx(
        (found["sigma"] / 2, 5 * found["sigma"])
    )
    assert found["sigma"] == pytest.approx(CHARTS["individuals"]["mr_bar"] / 1.128, rel=1e-3)


# Source: Cohen 1960 (secondary), 200 diagnoses of two people.
def test_agreement_of_two_is_cohens(write, answer):
    case = load_json("agreement")["cohen_two_raters"][0]
    rows, stove = [], 0
    for first, counts in zip("abc", case["table"], strict=True):
        for second, count in zip("abc", counts, strict=True):
            for _ in range(count):
                stove += 1
                rows += [[stove, "I01", first], [stove, "I02", second]]
    found = answer("agree", write("stove,inspector,verdict", rows))
    assert found["of"] == "verdicts" and found["method"] == "cohen" and found["stoves"] == 200
    assert found["agreement"]["kappa"] == pytest.approx(case["kappa"], abs=5e-4)
    assert found["alike"]["same"] == 88 + 40 + 12 and len(found["differing"]) == 60


# Source: Fleiss 1971 (ratings from a shipped data set, kappa from memory).
def test_agreement_of_many_is_fleiss(write, answer):
    case = load_json("agreement")["fleiss_many_raters"][0]
    rows = [
        [f"s{n}", f"I{who}", code]
        for n, codes in enumerate(case["ratings_codes"])
        for who, code in enumerate(codes)
    ]
    found = answer("agree", write("stove,inspector,verdict", rows))
    assert found["method"] == "fleiss" and found["agreement"]["kappa"] == pytest.approx(
        case["kappa"], abs=5e-3
    )


# Source: the manual's example of 10 parts, 3 people, 3 trials (secondary).
def test_repeat_study_is_the_published_one(write, answer):
    rows = [
        [row["part"], row["appraiser"], row["trial"], row["value"]]
        for row in load_csv("gauge_study")
    ]
    found = answer(
        "agree", write("stove,inspector,repeat,value", rows), "--lower", -4, "--upper", 4
    )
    published = load_json("measurement")["gauge_study"]["anova"]
    assert found["of"] == "readings" and found["study"]["repeatability"]["value"] == pytest.approx(
        published["ev"], abs=5e-5
    )
    assert found["study"]["measuring"]["value"] == pytest.approx(published["grr"], abs=5e-5)
    assert found["share_of_limits"]["value"] == pytest.approx(6 * published["grr"] / 8, abs=5e-5)


# Source: Montgomery, Introduction to Statistical Quality Control (memory): n 20, s 1.75, limits 38
# and 62.
def test_capability_is_the_published_one(write, answer):
    case = load_json("capability")["cp_interval"]
    spread = case["s"] * (19 / 20) ** 0.5
    found = answer(
        "capability",
        write_values(write, [50 - spread, 50 + spread] * 10),
        "--lower",
        case["lsl"],
        "--upper",
        case["usl"],
    )
    assert found["s"] == pytest.approx(case["s"]) and found["n"] == case["n"]
    # The book goes on with its rounded 2.29.
    assert [found["pp"][key] for key in ("value", "low", "high")] == pytest.approx(
        [case["cp"], case["lo"], case["hi"]], abs=0.006
    )
    assert found["percentile_ppk"] is None and found["normality_p"] < 0.01


@pytest.mark.parametrize(
    ("columns", "rows", "words", "says"),
    [
        ("value", [["1"], ["x"]], ["chart", "--kind", "individuals"], "given.csv:3 value"),
        ("value", [["1"], ["nan"]], ["chart", "--kind", "ewma"], "given.csv:3 value"),
        ("value", [["1,5"]], ["chart", "--kind", "cusum"], "decimal point"),
        ("value", [["1"]], ["chart", "--kind", "individuals"], "at least 2"),
        ("faults,inspected", [["5", "4"]], ["chart", "--kind", "p"], "5 failed of 4"),
        ("reading", [["1"]], ["capability", "--lower", "0"], "no column value"),
        ("value", [["1"], ["2"]], ["capability"], "needs a limit"),
        ("stove,inspector", [["1", "I01"]], ["agree"], "no column"),
        (
            "stove,inspector,verdict",
            [["1", "I01", "pass"], ["2", "I01", ""]],
            ["agree"],
            "given.csv:3 verdict",
        ),
        ("stove,inspector,verdict", [["1", "I01", "pass"]], ["agree"], "two inspectors"),
        ("stove,inspector,verdict", [["1", "I01", "pass"]] * 2, ["agree"], "twice"),
        (
            "stove,inspector,repeat,value",
            [["1", "I01", "1", "3"], ["1", "I02", "1", "4"]],
            ["agree"],
            "measured twice",
        ),
        (
            "stove,inspector,repeat,value",
            [["1", "I01", "1", "3"]],
            ["agree", "--lower", "1"],
            "both or none",
        ),
    ],
)
def test_what_cannot_be_used_is_named_with_its_place(write, answer, columns, rows, words, says):
    with pytest.raises(BadInput) as caught:
        answer(words[0], write(columns, rows), *words[1:])
    assert says in str(caught.value)


def test_errors_are_one_line_with_an_exit_code(write):
    done = run("chart", write_values(write, [1, 2]), "--kind", "pie")
    assert done.returncode == 2 and "individuals" in done.stderr
    done = run("capability", write_values(write, [1, "x"]), "--lower", 0)
    assert (
        done.returncode == 1
        and done.stdout == ""
        and done.stderr.count("\n") == 1
        and "given.csv:3 value" in done.stderr
    )


def test_incomplete_stoves_are_left_out_and_counted(write, answer):
    rows = [[stove, who, "pass"] for stove in "abc" for who in ("I01", "I02")] + [
        ["d", "I01", "fail"]
    ]
    found = answer("agree", write("stove,inspector,verdict", rows))
    assert (found["stoves"], found["left_out"]) == (3, 1) and found["agreement"]["kappa"] is None


def test_own_repeats_are_compared_apart(write, answer):
    looks = [
        ("a", 1, "pass", "pass"),
        ("a", 2, "fail", "pass"),
        ("b", 1, "fail", "fail"),
        ("b", 2, "fail", "fail"),
    ]
    rows = [
        [stove, who, repeat, verdict]
        for stove, repeat, *both in looks
        for who, verdict in zip(("I01", "I02"), both, strict=True)
    ]
    found = answer("agree", write("stove,inspector,repeat,verdict", rows))
    assert [(own["inspector"], own["same"], own["of"]) for own in found["own"]] == [
        ("I01", 1, 2),
        ("I02", 2, 2),
    ]
    assert found["alike"]["same"] == 2
