"""What may become of a stove, by what was found on it (ISO 9000 terms).

Twin of static/phone/js/inspection/disposition.js; the rule is tests/vectors/disposition/.
"""

from collections.abc import Iterable, Sequence
from typing import Protocol

DISPOSITIONS = ("release", "rework", "concession", "scrap", "hold")
_NEEDING_REASON = frozenset({"concession", "hold", "scrap"})


class Asked(Protocol):
    """What is looked at of a check; only calculated ones have inputs."""

    @property
    def id(self) -> str: ...

    @property
    def severity(self) -> str: ...


def needed_checks(checks: Sequence[Asked], is_short: bool) -> list[str]:
    """Ids of the checks that must be answered before a stove is wholly checked, in their order.

    is_short: a sample was agreed and the stove is not in it: then only the critical checks, and
    what a critical sum is calculated from.
    """
    if not is_short:
        return [check.id for check in checks]
    inputs = {check.id: getattr(check, "inputs", ()) for check in checks}
    needed, waiting = set(), [check.id for check in checks if check.severity == "critical"]
    while waiting:
        check_id = waiting.pop()
        if check_id not in needed:
            needed.add(check_id)
            waiting += inputs.get(check_id, ())
    return [check.id for check in checks if check.id in needed]


def allowed_dispositions(failed_severities: Iterable[str], has_missing: bool) -> list[str]:
    """Dispositions in order of proposal; the first is the proposed one.

    `failed_severities`: severity of every check that counts as failed. A stove with a critical
    fault can hurt someone, so it is never released, not even by concession; one that was not
    wholly checked is not known to be good.
    """
    failed = set(failed_severities)
    if has_missing:
        return ["hold", "rework", "scrap"]
    if "critical" in failed:
        return ["rework", "hold", "scrap"]
    if failed:
        return ["rework", "concession", "hold", "scrap"]
    return ["release", "hold"]


def propose_disposition(allowed: Sequence[str], has_skipped: bool) -> str | None:
    """The one that is chosen before anybody chooses; None where a person must.

    `has_skipped`: a check was said not to apply to this stove. That alone lets nobody release it
    unseen.
    """
    return None if has_skipped and allowed[0] == "release" else allowed[0]


def needs_reason(disposition: str) -> bool:
    """Whether a person must say in words why this disposition was chosen."""
    return disposition in _NEEDING_REASON
