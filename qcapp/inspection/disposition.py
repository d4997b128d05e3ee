"""What may become of a stove, by what was found on it (ISO 9000 terms).

Twin of static/js/inspection/disposition.js; the rule is tests/vectors/disposition/.
"""

from collections.abc import Iterable

DISPOSITIONS = ("release", "rework", "concession", "scrap", "hold")
_NEEDING_REASON = frozenset({"concession", "hold", "scrap"})


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


def needs_reason(disposition: str) -> bool:
    """Whether a person must say in words why this disposition was chosen."""
    return disposition in _NEEDING_REASON
