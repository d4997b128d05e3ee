"""A check whose condition a batch does not meet is asked nowhere: judge, paper and summary agree,
whatever kind of value the batch has.
"""

from types import SimpleNamespace

import pytest

from qcapp.checklist.load import load_checklist
from qcapp.inspection.not_asked import list_not_asked
from qcapp.reports.summary_batch import list_checks
from tests.checklist.small import write_small


@pytest.fixture
def checklist(tmp_path):
    return load_checklist(write_small(tmp_path))


@pytest.mark.parametrize("painted", [True, False, 1, 0, "true", None])
def test_summary_lists_the_checks_that_the_judge_asks(checklist, painted):
    batch = {"size": "medium", "attributes": {"painted": painted}}
    facts = SimpleNamespace(checklist=checklist, batch=batch)
    listed = {one["check"] for one in list_checks(facts)}
    assert listed == set(checklist.check_by_id) - list_not_asked(checklist, batch)


def test_only_true_is_painted(checklist):
    conditional = {check.id for check in checklist.checks if check.when}
    left_out = {
        painted: list_not_asked(checklist, {"size": "medium", "attributes": {"painted": painted}})
        for painted in (True, "true", None)
    }
    assert left_out == {True: set(), "true": conditional, None: conditional} and conditional
    one = {"size": "medium", "attributes": {"painted": 1}}
    assert list_not_asked(checklist, one) == conditional
