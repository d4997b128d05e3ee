"""The step `engines`: python3 -m tests.engines (from tests/.venv).

Exit 0: every engine was tried and holds. 77: one is not here and the others hold; says which, and
what is missing. Else pytest's own.
"""

import subprocess
import sys

from tests.engines.programs import PACKAGES, list_missing

SKIPPED = 77
HERE = "tests/engines"


def run(more: list[str]) -> int:
    """more: further arguments for pytest."""
    missing = {engine: list_missing(engine) for engine in PACKAGES}
    there = [engine for engine, packages in missing.items() if not packages]
    for engine, packages in missing.items():
        if packages:
            print(f"{engine}: not tried, not installed here: {', '.join(packages)}", flush=True)
    if not there:
        return SKIPPED
    chosen = ["-k", " or ".join(there), "-n", str(len(there)), "--dist", "worksteal"]
    code = subprocess.call([sys.executable, "-m", "pytest", HERE, *chosen, *more])
    return code or (SKIPPED if len(there) < len(missing) else 0)


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:]))
