"""The audit of packages: what is known fails, what could not be looked up is said and never passes for clean."""

import json

import pytest

from tests.audit import SKIPPED, judge

SEEN = {"name": "alpha", "version": "1.0", "vulns": []}
WEAK = {"name": "beta", "version": "2.0", "vulns": [{"id": "ADV-1", "fix_versions": ["2.1"]}]}
UNSEEN = {"name": "gamma", "skip_reason": "Dependency not found"}
OWN = {"name": "qcapp", "skip_reason": "distribution marked as editable"}


def write(*packages):
    return json.dumps({"dependencies": packages, "fixes": []})


@pytest.mark.parametrize(("output", "code", "says"), [
    (write(SEEN, OWN), 0, "no weakness known in 1 packages"),
    (write(SEEN, WEAK), 1, "beta 2.0: ADV-1, mended in 2.1"),
    (write(SEEN, WEAK, UNSEEN), 1, "beta 2.0"),
    (write(UNSEEN, OWN), SKIPPED, "not looked up: no advisories for any of 1 packages"),
    (write(SEEN, UNSEEN), SKIPPED, "could be reached for 1: gamma"),
    ("", SKIPPED, "ERROR: no connection"),
    ("<html>", SKIPPED, "ERROR: no connection"),
    ("[]", SKIPPED, "ERROR: no connection"),
])
def test_what_the_tool_wrote_is_judged(output, code, says):
    found, lines = judge(output, "WARNING: x\nERROR: no connection\n")
    assert found == code and says in "\n".join(lines)
