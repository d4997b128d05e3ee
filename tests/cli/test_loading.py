"""A command loads what it needs and no more:
figures from counts need neither the web nor a database.
"""

import json
import os
import subprocess
import sys

import pytest

pytestmark = pytest.mark.slow

# Typer itself loads pydantic, so that is not among them.
HEAVY = ("fastapi", "jinja2", "sqlalchemy", "sqlmodel", "starlette")
# Measured 531 with the special functions of scipy, 389 without.
MAX_MODULES = {"rate": 560, "compare": 560, "plan": 410, "bound": 410}
COUNT = """
import json, sys
from qcapp.cli.main import app
app(sys.argv[1:], standalone_mode=False)
print(json.dumps(sorted(sys.modules)))
"""


def list_loaded(*words: str) -> set[str]:
    # Measured, it would load what measures it.
    unmeasured = {
        name: value for name, value in os.environ.items() if not name.startswith("COVERAGE_PROCESS")
    }
    done = subprocess.run(
        [sys.executable, "-c", COUNT, *words],
        env=unmeasured,
        stdout=subprocess.PIPE,
        check=True,
        text=True,
    )
    return set(json.loads(done.stdout.splitlines()[-1]))


@pytest.mark.parametrize(
    "words",
    [
        ("rate", "--faults", "3", "--inspected", "40"),
        ("compare", "--a", "14/80", "--b", "6/240"),
        ("plan", "--lot", "500", "--aql", "2.5"),
        ("bound", "--lot", "60", "--n", "13", "--found", "0"),
    ],
    ids=lambda words: words[0],
)
def test_command_of_figures_loads_neither_web_nor_database(words):
    loaded = list_loaded(*words)
    assert not loaded.intersection(HEAVY)
    assert len(loaded) <= MAX_MODULES[words[0]]
    assert not [name for name in loaded if name.startswith(("qcapp.web", "qcapp.store"))]
    # The distributions alone would take two thirds of the time.
    assert "scipy.stats" not in loaded
