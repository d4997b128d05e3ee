"""The audit of packages: what is known fails,
what could not be looked up is said and never passes for clean.
"""

import json
import subprocess

import pytest

from tests import audit
from tests.audit import SKIPPED, judge, list_needed

SEEN = {"name": "alpha", "version": "1.0", "vulns": []}
WEAK = {"name": "beta", "version": "2.0", "vulns": [{"id": "ADV-1", "fix_versions": ["2.1"]}]}
TOOL = {"name": "Delta_Tool", "version": "3.0", "vulns": [{"id": "ADV-2", "fix_versions": []}]}
UNSEEN = {"name": "gamma", "skip_reason": "Dependency not found"}
OWN = {"name": "qcapp", "skip_reason": "distribution marked as editable"}


def write(*packages):
    return json.dumps({"dependencies": packages, "fixes": []})


@pytest.mark.parametrize(
    ("output", "code", "says"),
    [
        (write(SEEN, OWN), 0, "no weakness known in 1 packages"),
        (write(SEEN, WEAK), 1, "beta 2.0: ADV-1, mended in 2.1"),
        (write(SEEN, WEAK, UNSEEN), 1, "beta 2.0"),
        (
            write(SEEN, TOOL),
            0,
            (
                "Delta_Tool 3.0: ADV-2, mended in no version yet (only the tests use it)\nno"
                " weakness known in 1 packages"
            ),
        ),
        (write(UNSEEN, OWN), SKIPPED, "not looked up: no advisories for any of 1 packages"),
        (write(SEEN, UNSEEN), SKIPPED, "could be reached for 1: gamma"),
        ("", SKIPPED, "ERROR: no connection"),
        ("<html>", SKIPPED, "ERROR: no connection"),
        ("[]", SKIPPED, "ERROR: no connection"),
    ],
)
def test_what_the_tool_wrote_is_judged(output, code, says):
    found, lines = judge(output, "WARNING: x\nERROR: no connection\n", {"alpha", "beta", "gamma"})
    assert found == code and says in "\n".join(lines)


def test_what_the_product_needs_is_followed_to_the_end_and_holds_no_tool_of_the_tests():
    needed = list_needed()
    assert {"fastapi", "starlette", "argon2-cffi", "argon2-cffi-bindings", "sqlalchemy"} <= needed
    assert not {"pytest", "schemathesis", "pip-audit", "playwright"} & needed


def test_tool_that_does_not_end_is_said_and_fails_nothing(monkeypatch, capsys):
    def never_end(command, **more):
        raise subprocess.TimeoutExpired(command, more["timeout"])

    monkeypatch.setattr(audit.subprocess, "run", never_end)
    assert audit.main() == SKIPPED and "not looked up: no end after" in capsys.readouterr().out
