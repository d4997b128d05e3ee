"""Outside check values for the tests here: `tests/reference/`,
whose README says how sure each is.
"""

import csv
import json
from pathlib import Path

REFERENCE = Path(__file__).resolve().parent.parent / "reference"


def load_json(name: str) -> dict:
    return json.loads((REFERENCE / f"{name}.json").read_text(encoding="utf-8"))


def load_csv(name: str) -> list[dict[str, str]]:
    with (REFERENCE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
