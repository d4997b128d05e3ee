"""A checklist as the phone receives it: frozen, complete, known by its hash.

The shape of `compiled()` is the JSON that is kept and sent; `load.py` makes it from YAML.
"""

import hashlib
from functools import cached_property
from typing import Any

import rfc8785
from pydantic import Field, StrictInt, ValidationError

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.frozen_model import FrozenModel, Id, Text
from qcapp.checklist.items import Part, Step, Tool
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

# Absent where not given, so that a checklist from before they existed keeps its hash.
OPTIONAL = (
    "rows",
    "rework_minutes",
    "guard_factor",
    "repeatability",
    "twice_lower",
    "twice_upper",
    "picture",
    "asked_again",
    "should_be_caught_by",
    "may_not_apply",
    "lasts_seconds",
    "tool",
    "after",
    "gauge",
    "photo",
    "figure",
)


class Checklist(FrozenModel):
    """stage: what is looked at (a finished stove, or what is made before it).

    made_from: stages whose pieces, with serials of their own, are built into this one; the phone
    asks for these serials. same_serial: earlier stages of this very piece, under its own serial.
    tools: in the order in which they are taken in hand. first_piece: steps whose first piece of a
    day, or after a new template or tool, is checked before more are made.
    """

    id: Id
    revision: StrictInt = Field(ge=1)
    title: Text
    stage: Id
    made_from: tuple[Id, ...] = ()
    same_serial: tuple[Id, ...] = ()
    drawing: str
    sizes: tuple[Id, ...]
    tools: tuple[Tool, ...] = ()
    first_piece: tuple[Id, ...] = ()
    parts: tuple[Part, ...]
    steps: tuple[Step, ...]
    checks: tuple[Check, ...]

    @property
    def key(self) -> str:
        """The name in an event: finished-stove@1."""
        return f"{self.id}@{self.revision}"

    @cached_property
    def check_by_id(self) -> dict[str, Check]:
        """Read only."""
        return {check.id: check for check in self.checks}

    @cached_property
    def step_by_id(self) -> dict[str, Step]:
        """Read only."""
        return {step.id: step for step in self.steps}

    @cached_property
    def hash(self) -> str:
        """sha256 (hex) of the RFC 8785 canonical JSON of compiled()."""
        return hashlib.sha256(rfc8785.dumps(self.compiled())).hexdigest()

    def compiled(self) -> dict[str, Any]:
        """The JSON shape; keys that do not concern a check's kind are absent."""
        compiled = self.model_dump(mode="json")
        inner = [
            one
            for check in compiled["checks"]
            for one in (
                *check.get("limits", {}).values(),
                *check["faults"],
                *check.get("options", ()),
            )
        ]
        for part in (*compiled["checks"], *compiled["steps"], *inner):
            for name in OPTIONAL:
                if part.get(name, ()) is None:
                    del part[name]
        for owner, name in (
            *((compiled, name) for name in ("made_from", "same_serial", "tools", "first_piece")),
            *((step, "key_points") for step in compiled["steps"]),
        ):
            if not owner[name]:
                del owner[name]
        return compiled

    @classmethod
    def from_compiled(cls, compiled: dict[str, Any]) -> "Checklist":
        """Read the JSON shape back, as kept in the store or sent by a phone.

        Raises BadInput that names the first key that does not fit.
        """
        try:
            return cls.model_validate(compiled)
        except ValidationError as error:
            first = error.errors(include_url=False, include_input=False)[0]
            place = ".".join(str(step) for step in first["loc"])
            raise BadInput(
                phrase("not a checklist: %(msg)s", msg=first["msg"]),
                place,
                phrase("send it as the server sent it"),
            ) from error
