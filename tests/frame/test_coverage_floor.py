"""The floor of coverage: a file under it fails, so does one that nothing measured."""

from tests.coverage_floor import judge


def build_report(**figures) -> dict:
    files = {
        name: {"summary": {"percent_covered": figure, "num_statements": 9}}
        for name, figure in figures.items()
    }
    return {"files": files, "totals": {"percent_covered": 91.26}}


def test_every_file_over_the_floor_passes_and_the_figure_is_said():
    code, lines = judge(build_report(a=85.0, b=100.0), {"a", "b"})
    assert code == 0 and lines[-1] == "coverage 91.3 % of lines and branches"
    assert lines[0] == "a: 85.0 %"


def test_one_file_under_the_floor_fails_and_is_named():
    code, lines = judge(build_report(a=84.9, b=100.0), {"a", "b"})
    assert code == 1 and "a: 84.9 %, under 85" in lines


def test_file_that_nothing_measured_fails():
    code, lines = judge(build_report(a=100.0), {"a", "b"})
    assert code == 1 and "b: not measured" in lines


def test_file_without_a_statement_needs_no_test():
    report = build_report(a=100.0)
    report["files"]["b"] = {"summary": {"percent_covered": 0.0, "num_statements": 0}}
    assert judge(report, {"a", "b"})[0] == 0
