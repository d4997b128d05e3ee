"""Asks the phone's own JavaScript, run by Node, and gets its answers."""

import json
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest

SCRIPTS = Path(__file__).resolve().parent.parent / "js"


def get_node_path() -> str:
    """Path of Node; a missing one fails the test, it never skips."""
    node = shutil.which("node")
    if node is None:
        pytest.fail(
            "no Node on this machine: the phone's half cannot be compared; run tests/run.py"
        )
    return node


def run_node(script: str) -> str:
    """What a script of tests/js prints."""
    done = subprocess.run(
        [get_node_path(), str(SCRIPTS / script)],
        text=True,
        encoding="utf-8",
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, f"{script}: {done.stdout[-2000:]}{done.stderr[-2000:]}"
    return done.stdout


class Script:
    """One running script of tests/js: a question a line, an answer a line."""

    def __init__(self, process: subprocess.Popen) -> None:
        self._process = process

    def ask(self, task: str, **question: Any) -> Any:
        # Of a script that has ended, what it said last is worth more than the broken pipe.
        with suppress(BrokenPipeError):
            self._process.stdin.write(json.dumps({"task": task, **question}) + "\n")
            self._process.stdin.flush()
        line = self._process.stdout.readline()
        assert line, f"the phone's script ended: {self._process.stderr.read()[-2000:]}"
        return json.loads(line)


@contextmanager
def running_script(script: str = "judge_lines.js") -> Iterator[Script]:
    """A script that stays up, so that a random test can ask it one question at a time."""
    process = subprocess.Popen(
        [get_node_path(), str(SCRIPTS / script)],
        text=True,
        encoding="utf-8",
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    with process:
        yield Script(process)
        process.stdin.close()
