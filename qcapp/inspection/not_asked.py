"""Which checks of a checklist are not asked in a batch: one rule for judge, paper and summary."""

from collections.abc import Mapping
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.inspection.judge import judge_answers


def list_not_asked(checklist: Checklist, batch: Mapping[str, Any]) -> set[str]:
    """Ids of the checks whose condition this batch (its size and attributes) does not meet."""
    judged = judge_answers(checklist, {}, {"size": batch["size"], "batch": batch["attributes"]})
    return {key for key, found in judged.items() if found.reason == "condition-not-met"}
