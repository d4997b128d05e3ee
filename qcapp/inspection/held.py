"""What is known of a stove over all its inspections, and what the lead may decide about a held one.

As the decision about a batch does: what counts of a check is the last look at it; one that no
inspection looked at is missing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.inspection.disposition import allowed_dispositions, needed_checks
from qcapp.inspection.judge import hinders_release, is_left_out, judge_answers


@dataclass(frozen=True)
class OpenFindings:
    """failed: checks whose last look failed, each with the answer's fault; missing: checks that
    were asked and never looked at.
    """

    failed: tuple[tuple[Check, str | None], ...]
    missing: tuple[Check, ...]

    @property
    def choices(self) -> tuple[str, ...]:
        """What may become of the stove. It goes out only by the rule that also holds on the phone;
        to rework or scrap it is always possible, since it may have been damaged while it waited.
        """
        severities = [check.severity for check, _fault in self.failed]
        allowed = allowed_dispositions(severities, bool(self.missing))
        going_out = [kind for kind in ("release", "concession") if kind in allowed]
        return (*going_out, "rework", "scrap")


def find_open_findings(
    inspections: Sequence[Mapping[str, Any]], checklists: Mapping[str, Checklist]
) -> OpenFindings:
    """inspections: of one stove as they count, oldest first, at least one; checklists: by hash."""
    seen: dict[str, tuple[bool, str | None]] = {}
    for one in inspections:
        checklist, body = checklists[one["checklist_hash"]], one["body"]
        context = {"size": body["size"], "batch": body["batch_attributes"]}
        judged = judge_answers(checklist, body["answers"], context)
        for check in checklist.checks:
            if not is_left_out(judged[check.id]):
                fault = body["answers"].get(check.id, {}).get("fault")
                seen[check.id] = (hinders_release(check, judged[check.id]), fault)
    checks = checklists[inspections[-1]["checklist_hash"]].checks
    is_short = all(one["body"].get("scope") == "critical" for one in inspections)
    needed = set(needed_checks(checks, is_short))
    return OpenFindings(
        tuple((check, seen[check.id][1]) for check in checks if seen.get(check.id, (False,))[0]),
        tuple(check for check in checks if check.id in needed and check.id not in seen),
    )
