"""A sheet that is typed in: its stoves, and the names of its fields.

Everything typed is kept as text by field name, so that a page can always be shown again as it was
left.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.inspection.not_asked import list_not_asked
from qcapp.inspection.paper import Filled
from qcapp.sync.paper import read_form_key

MAX_TYPED = 1000


@dataclass(frozen=True)
class Column:
    """One stove of the sheet. moment: UTC; inspections: what the log has of the stove at this
    stage, as folded; place: which look this is, from 1; disposition: what is chosen, among
    filled.allowed; doubt: why the serial is probably a slip (doubt_serial); made_from: serials of
    the pieces built in, by stage.
    """

    index: int
    serial: str
    moment: datetime
    crew: dict[str, str]
    filled: Filled
    inspections: list[dict[str, Any]]
    place: int
    disposition: dict[str, str]
    doubt: str | None
    made_from: dict[str, str]


@dataclass
class Sheet:
    """The whole form. pieces: stages whose pieces are asked for by serial; problems: {field name:
    what is wrong}; columns: those in which something was typed.
    """

    batch: Mapping[str, Any]
    checklist: Checklist
    stoves: int
    typed: Mapping[str, str]
    now: datetime
    pieces: tuple[str, ...] = ()
    problems: dict[str, str] = field(default_factory=dict)
    columns: list[Column] = field(default_factory=list)

    def get(self, name: str) -> str:
        return self.typed.get(name, "").strip()[:MAX_TYPED]

    @cached_property
    def key(self) -> tuple[int, str]:
        """The form's own name, given when it was opened."""
        found = read_form_key(self.get("key"))
        if found is None:
            raise BadInput(
                phrase("this form is incomplete"),
                "key",
                phrase("open the page again and type the sheet in again"),
            )
        return found

    @property
    def trades(self) -> list[str]:
        """Those whose work is looked at in this batch: an unpainted one asks for no painter."""
        left_out = list_not_asked(self.checklist, self.batch)
        asked = {check.step for check in self.checklist.checks if check.id not in left_out}
        steps = (step for step in self.checklist.steps if step.id in asked)
        return list(dict.fromkeys(step.trade for step in steps))


def cell_name(check_id: str, index: int, place: int) -> str:
    return f"cell-{check_id}-{index}-{place}"


def piece_name(stage: str, index: int) -> str:
    return f"piece-{stage}-{index}"


def count_cells(check: Check) -> int:
    """How many texts a check takes on the form."""
    return max(check.reading_count, 1)
