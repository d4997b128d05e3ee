"""How a field of a checklist is typed on a page, by its name.

A name that is missing here cannot be changed on a page: tests/checklist/test_edit.py looks for each
field of the model.
"""

from pydantic import BaseModel

from qcapp.checklist.items import Fault, Option, Part, Step, Tool

SIDES = ("lower", "nominal", "upper")
GROUPS = ("tools", "parts", "steps", "checks")
WORDS = ("title", "ask", "how", "caution", "asked_again", "do", "why")
KEY_POINTS, POINT_WORDS = "key_points", ("do", "why")
TEXTS = ("basis", "unit")
CODES = (
    *("part", "step", "tool", "severity", "picture", "trade"),
    *("decision", "by", "side", "verdict", "fault", "photo", "figure"),
)
NUMBERS = (
    *("resolution", "uncertainty", "guard_factor", "repeatability"),
    *("lasts_seconds", "n", "rework_minutes"),
)
TICKS = ("may_not_apply", "gauge")
# Of words, those that may be missing altogether.
MAY_BE_MISSING = ("caution", "asked_again")
CONDITIONS, FORMULA = "when", "expression"
ITEM_MODELS: dict[str, type[BaseModel]] = {
    "parts": Part,
    "tools": Tool,
    "steps": Step,
    "faults": Fault,
    "options": Option,
}
