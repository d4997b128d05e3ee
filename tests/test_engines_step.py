"""The step `engines` never passes over an engine without saying so."""

import subprocess

import pytest

from tests.engines import __main__ as step
from tests.engines.programs import PACKAGES

SKIPPED = 77


@pytest.fixture
def run_with(monkeypatch):
    """Call it with the engines that are missing and what pytest would end with; gives (exit code,
    the command that was started or None)."""

    def run(missing: set, code: int = 0):
        started = []
        monkeypatch.setattr(step, "list_missing", lambda name: [name] if name in missing else [])
        monkeypatch.setattr(subprocess, "call", lambda command: started.append(command) or code)
        return step.run([]), started[0] if started else None

    return run


def test_all_engines_here_is_what_pytest_says(run_with):
    for code in (0, 1, 5):
        ended, command = run_with(set(), code)
        assert ended == code
        assert command[command.index("-k") + 1] == "gecko or webkit"


@pytest.mark.parametrize("engine", PACKAGES)
def test_a_missing_engine_is_named_and_the_other_is_tried(run_with, capsys, engine):
    (other,) = set(PACKAGES) - {engine}
    ended, command = run_with({engine})
    assert ended == SKIPPED
    assert command[command.index("-k") + 1] == other
    assert f"{engine}: not tried" in capsys.readouterr().out
    # What fails in the other is no skip.
    assert run_with({engine}, 1)[0] == 1


def test_no_engine_here_starts_nothing(run_with, capsys):
    assert run_with(set(PACKAGES)) == (SKIPPED, None)
    assert capsys.readouterr().out.count("not tried") == len(PACKAGES)
