"""What each field of a checklist is called when a change of it is told, and how its value reads.

A field that has no words here is still told, under its key; tests/checklist/test_changes.py asks
for words of every field of the model.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from pydantic import BaseModel

from qcapp.checklist.base_check import (
    BaseCheck,
    LengthCheck,
    Limits,
    NumberCheck,
    PhotoCheck,
    Possible,
)
from qcapp.checklist.check_kinds import (
    CHECK_KINDS,
    CalculatedCheck,
    ChoiceCheck,
    CountCheck,
    MeasureCheck,
    ReadingsCheck,
)
from qcapp.checklist.items import Fault, KeyPoint, Option, Part, Step, Tool
from qcapp.checklist.model import Checklist
from qcapp.checklist.write import write_expression
from qcapp.i18n.localized_text import Figure, join, text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.sizes import name_size
from qcapp.i18n.units import name_unit

# Told as items of their own: what is new, gone, moved, changed inside.
ITEMS = ("tools", "parts", "steps", "checks", "faults", "options")
# Never told: the number of the revision is what the changes are listed for.
UNTOLD = {Checklist: ("revision",)}

_NAME = phrase("Name")
FIELD_WORDS: dict[type[BaseModel], dict[str, Phrase]] = {
    Checklist: {
        "id": phrase("Code"),
        "title": _NAME,
        "stage": phrase("Stage"),
        "made_from": phrase("Stages whose pieces are built in"),
        "same_serial": phrase("Earlier stages of the same piece"),
        "drawing": phrase("Drawing"),
        "sizes": phrase("Sizes"),
        "first_piece": phrase("Steps whose first piece is checked"),
        "tools": phrase("Tools"),
        "parts": phrase("Parts"),
        "steps": phrase("Steps"),
        "checks": phrase("Checks"),
    },
    Part: {"id": phrase("Code"), "title": _NAME},
    Tool: {"id": phrase("Code"), "title": _NAME},
    Step: {
        "id": phrase("Code"),
        "title": _NAME,
        "trade": phrase("Trade"),
        "rework_minutes": phrase("Minutes to mend one fault"),
        "key_points": phrase("Key points"),
    },
    KeyPoint: {"do": phrase("What to do"), "why": phrase("Why so")},
    Fault: {
        "id": phrase("Code"),
        "title": _NAME,
        "side": phrase("Named by itself when the reading is"),
        "picture": phrase("Picture"),
    },
    Option: {
        "id": phrase("Code"),
        "title": _NAME,
        "verdict": phrase("What this answer means"),
        "fault": phrase("Fault that this answer names"),
        "picture": phrase("Picture"),
    },
    Possible: {
        "lower": phrase("A typing error if below"),
        "upper": phrase("A typing error if above"),
    },
    Limits: {
        "lower": phrase("at least"),
        "nominal": phrase("target"),
        "upper": phrase("at most"),
        "accept_lower": phrase("doubtful if below"),
        "accept_upper": phrase("doubtful if above"),
        "twice_lower": phrase("doubtful after two readings if below"),
        "twice_upper": phrase("doubtful after two readings if above"),
    },
    BaseCheck: {
        "id": phrase("Code"),
        "kind": phrase("How it is answered"),
        "part": phrase("Part"),
        "step": phrase("Step that causes its faults"),
        "severity": phrase("Severity"),
        "ask": phrase("Question"),
        "how": phrase("How it is done"),
        "caution": phrase("Caution"),
        "basis": phrase("Where this comes from"),
        "when": phrase("Asked only where"),
        "faults": phrase("Faults"),
        "picture": phrase("Picture of how it is done"),
        "asked_again": phrase("Why it is asked again"),
        "should_be_caught_by": phrase("Earlier checks that should have caught its faults"),
        "may_not_apply": phrase("May be said not to apply"),
        "lasts_seconds": phrase("How long the load stands, in seconds"),
        "tool": phrase("Tool"),
        "after": phrase("Only after these checks"),
    },
    NumberCheck: {
        "unit": phrase("Unit"),
        "resolution": phrase("Smallest step of the tool"),
        "uncertainty": phrase("Uncertainty of the tool"),
        "decision": phrase("Rule for readings close to a limit"),
        "possible": phrase("Possible readings"),
        "limits": phrase("Limits"),
        "guard_factor": phrase("How much of the uncertainty keeps a reading from a limit"),
    },
    PhotoCheck: {"photo": phrase("Measured in a photo")},
    LengthCheck: {"figure": phrase("Figure taken from the photo")},
    MeasureCheck: {"repeatability": phrase("Difference from one reading to the next")},
    CountCheck: {"rows": phrase("How many in each row")},
    ReadingsCheck: {
        "n": phrase("Number of readings"),
        "by": phrase("Judged by"),
        "labels": phrase("Name of the reading"),
        "gauge": phrase("One gauge may stand for the readings"),
    },
    ChoiceCheck: {"options": phrase("Answers")},
    CalculatedCheck: {
        "inputs": phrase("Calculated from"),
        "expression": phrase("Formula"),
    },
}
# Codes that a checklist uses for itself; severities, verdicts and trades come with the caller.
CODES: dict[str, Phrase] = {
    **{kind: one.label for kind, one in CHECK_KINDS.items()},
    "below": phrase("below the lower limit"),
    "above": phrase("above the upper limit"),
    "smallest": phrase("the smallest"),
    "largest": phrase("the largest"),
    "mean": phrase("the mean"),
    "range": phrase("the difference between largest and smallest"),
    "holes": phrase("the holes of a grate"),
    "margin": phrase("smallest margin from a hole to the edge"),
    "web": phrase("smallest web between two holes"),
    "width": phrase("mean width of the holes"),
}
SHORT = {
    "lower": phrase("at least"),
    "nominal": phrase("target"),
    "upper": phrase("at most"),
}
YES, NO = phrase("yes"), phrase("no")
# Fields that hold a code with words of its own.
CODED = (
    *("severity", "decision", "by", "side", "verdict", "trade", "stage", "kind"),
    *("photo", "figure"),
)
# Fields that name something of the checklist.
NAMED = ("part", "step", "tool", "fault", "after", "inputs")


def name_field(owner: type[BaseModel], field: str) -> str:
    for one in owner.__mro__:
        words = FIELD_WORDS.get(one, {}).get(field)
        if words is not None:
            return words
    return field


@dataclass(frozen=True)
class Reader:
    """Says values of one checklist. words: by code, beside CODES."""

    checklist: Checklist
    words: Mapping[str, Phrase]

    def say(self, field: str, value: Any, unit: str = "") -> str:
        """What stands in a field, None for nothing at all."""
        special = _SPECIAL.get(field)
        if special:
            return special(self, value)
        if isinstance(value, bool):
            return YES if value else NO
        if isinstance(value, int | float):
            return say_number(value, unit)
        if field in CODED:
            return self.say_code(str(value))
        if field in NAMED:
            return self.say_names(field, value)
        if isinstance(value, tuple | list):
            return join(", ", (self.say_code(str(one)) for one in value))
        return str(value)

    def say_code(self, code: str) -> str:
        return CODES.get(code) or self.words.get(code) or code.replace("-", " ")

    def say_names(self, field: str, value: Any) -> str:
        ids = value if isinstance(value, tuple | list) else (value,)
        return join(", ", (self._name_id(field, one) for one in ids))

    def _name_id(self, field: str, item_id: str) -> str:
        groups: tuple[Any, ...] = {
            "part": self.checklist.parts,
            "step": self.checklist.steps,
            "tool": self.checklist.tools,
            "fault": tuple(fault for check in self.checklist.checks for fault in check.faults),
        }.get(field, ())
        check = self.checklist.check_by_id.get(item_id)
        if not groups and check is not None:
            return text_of(check.ask)
        return next((text_of(one.title) for one in groups if one.id == item_id), item_id)

    def say_conditions(self, when: Mapping[str, Any]) -> str:
        return join(", ", (self._say_condition(key, value) for key, value in when.items()))

    def _say_condition(self, key: str, value: Any) -> str:
        name = self.say_code(key.removeprefix("batch."))
        said = (YES if value else NO) if isinstance(value, bool) else name_size(str(value))
        return phrase("%(name)s: %(value)s", name=name, value=said)

    def say_catchers(self, stages: Mapping[str, Any]) -> str:
        return join(
            "; ",
            (
                phrase("%(name)s: %(value)s", name=self.say_code(stage), value=list(checks))
                for stage, checks in stages.items()
            ),
        )

    def say_formula(self, tree: Any) -> str:
        names = {one.id: str(text_of(one.ask)) for one in self.checklist.checks}
        inputs = {found: f"“{names.get(found, found)}”" for found in _list_inputs(tree)}
        return write_expression(tree, inputs)


def say_number(value: float, unit: str = "") -> str:
    # Every digit: two values that differ must read differently.
    figure = Figure(format(Decimal(str(value)), "f"))
    return phrase("%(number)s %(unit)s", number=figure, unit=name_unit(unit)) if unit else figure


def say_limits(limits: BaseModel, unit: str) -> str:
    """“at least 97 mm, target 100 mm, at most 103 mm”."""
    return join(
        ", ",
        (
            phrase("%(side)s %(value)s", side=SHORT[side], value=say_number(value, unit))
            for side in SHORT
            if (value := getattr(limits, side, None)) is not None
        ),
    )


def _list_inputs(tree: Any) -> set[str]:
    if not isinstance(tree, list | tuple):
        return set()
    if tree[0] == "input":
        return {str(tree[1])}
    return set().union(*(_list_inputs(part) for part in tree[1:]))


_SPECIAL: dict[str, Callable[[Reader, Any], str]] = {
    "when": Reader.say_conditions,
    "should_be_caught_by": Reader.say_catchers,
    "expression": Reader.say_formula,
}
