"""When inspection gets stricter, milder, or stops: a state and what each batch does to it."""

from dataclasses import dataclass, replace

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.stats.sampling import REGIMES

# MIL-STD-105E 4.7.1: this many rejected within the last so many batches.
REJECTED_TO_TIGHTEN, WINDOW = 2, 5
# 4.7.2, 4.7.3, 4.8.
ACCEPTED_TO_NORMAL, ACCEPTED_TO_REDUCED, REJECTED_TO_STOP = 5, 10, 5


@dataclass(frozen=True)
class SamplingRegime:
    """The inspection in force for the next batch of one yard, design and class of fault.

    kind: normal, tightened or reduced. recent: whether each of the last (at most four) batches
    under this regime was accepted, oldest first. accepted_run: batches accepted one after another
    under this regime. rejected_tightened: rejected since tightened began. is_stopped: no acceptance
    by sampling until the making has been mended (`restart`).
    """

    kind: str = "normal"
    recent: tuple[bool, ...] = ()
    accepted_run: int = 0
    rejected_tightened: int = 0
    is_stopped: bool = False


@dataclass(frozen=True)
class LotResult:
    """is_accepted: what the plan decides; is_in_gap: accepted, but between ac and re (reduced
    only).
    """

    is_accepted: bool
    is_in_gap: bool = False


def next_inspection(
    now: SamplingRegime, lot: LotResult, may_reduce: bool = False
) -> SamplingRegime:
    """The inspection in force after one more batch.

    Parameters
    ----------
    now : SamplingRegime
        Before the batch; `SamplingRegime()` is the start (normal).
    lot : LotResult
        Of a batch presented for the first time; one presented again does not count and must not be
        given here.
    may_reduce : bool
        Whether production is steady and reduced inspection is wanted: a person's word. It is also
        needed to stay on reduced.

    Returns
    -------
    SamplingRegime
        normal to tightened: 2 of 5 or fewer batches in a row rejected. tightened to normal: 5 in a
        row accepted. normal to reduced: 10 in a row accepted and may_reduce. reduced to normal: a
        batch rejected or in the gap, or not may_reduce. Stopped: the fifth rejected on tightened.

    Raises
    ------
    BadInput
        When inspection has stopped, or the kind is not known.

    Notes
    -----
    The limit number of faults in those 10 batches is left out, as 8.5 of the 2003 standard allows
    where both sides agree. The switching score of ISO 2859-1:1999 is not used: it belongs to that
    edition's reduced table.

    References
    ----------
    MIL-STD-105E (1989), 4.7 and 4.8. ANSI/ASQ Z1.4-2003, 8.3 to 8.5.
    """
    if now.is_stopped:
        raise BadInput(
            phrase("inspection has stopped after 5 rejected batches"),
            "regime",
            phrase("correct production, then restart"),
        )
    if now.kind not in REGIMES:
        what = phrase("inspection %(regime)s is not known", regime=now.kind)
        raise BadInput(what, "regime", phrase("give one of %(known)s", known=", ".join(REGIMES)))
    after = replace(
        now,
        recent=(*now.recent, lot.is_accepted)[-(WINDOW - 1) :],
        accepted_run=now.accepted_run + 1 if lot.is_accepted else 0,
        rejected_tightened=now.rejected_tightened
        + (now.kind == "tightened" and not lot.is_accepted),
    )
    if now.kind == "normal":
        return _after_normal((*now.recent, lot.is_accepted), after, may_reduce)
    if now.kind == "tightened":
        return _after_tightened(after)
    is_back = not lot.is_accepted or lot.is_in_gap or not may_reduce
    return SamplingRegime("normal") if is_back else after


def _after_normal(
    window: tuple[bool, ...], after: SamplingRegime, may_reduce: bool
) -> SamplingRegime:
    if window.count(False) >= REJECTED_TO_TIGHTEN:
        return SamplingRegime("tightened")
    if may_reduce and after.accepted_run >= ACCEPTED_TO_REDUCED:
        return SamplingRegime("reduced")
    return after


def _after_tightened(after: SamplingRegime) -> SamplingRegime:
    if after.rejected_tightened >= REJECTED_TO_STOP:
        return replace(after, is_stopped=True)
    if after.accepted_run >= ACCEPTED_TO_NORMAL:
        return SamplingRegime("normal")
    return after


def restart(now: SamplingRegime) -> SamplingRegime:
    """After the making was mended: tightened again, counts from nothing (MIL-STD-105E 4.8)."""
    if not now.is_stopped:
        raise BadInput(phrase("inspection has not stopped"), "regime", phrase("continue as before"))
    return SamplingRegime("tightened")
