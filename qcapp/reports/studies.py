"""What an agreement study shows, check by check, and what to do about it in words."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from qcapp.checklist.base_check import Limits, NumberCheck
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.i18n.localized_text import join
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.judge import Judgement, judge_answers
from qcapp.inspection.study import Study, StudyAnswer
from qcapp.reports.agreement import (
    GivenReading,
    GivenVerdict,
    ReadingAgreement,
    VerdictAgreement,
    compare_readings,
    compare_verdicts,
)
from qcapp.stats.interval import Estimate

# Of the limits' width: up to a tenth measuring hardly matters, from three tenths on it decides too
# much (common practice after AIAG, Measurement Systems Analysis, quoted from memory).
SMALL_SHARE, LARGE_SHARE = 0.1, 0.3
# Landis and Koch 1977: substantial agreement begins here (Biometrics 33, 159-174).
GOOD_KAPPA = 0.6
# With fewer nothing is called good, whatever the figures say. Ten parts are what a repeat study
# usually has (AIAG as above).
FEW_STOVES = 20
FEW_MEASURED = 10
FEW_INSPECTORS = 3


class Look(NamedTuple):
    """What one inspector found of the check at one look at a stove."""

    stove: str
    inspector: str
    repeat: int
    found: Judgement


@dataclass(frozen=True)
class CheckAgreement:
    """verdicts or readings None where the looks do not allow it; why_* says so. advice:
    sentences.
    """

    check: Check
    looks: int
    verdicts: VerdictAgreement | None
    readings: ReadingAgreement | None
    why_no_verdicts: str
    why_no_readings: str
    advice: tuple[str, ...]


@dataclass(frozen=True)
class StudyReport:
    """done: looks given, by inspector; planned: looks each shall give."""

    study: Study
    done: Mapping[str, int]
    planned: int
    checks: tuple[CheckAgreement, ...]


def build_study_report(
    study: Study, answers: Iterable[StudyAnswer], checklist: Checklist, context: Mapping[str, Any]
) -> StudyReport:
    """answers: any; those of other studies, stoves and people are left out. context: size and
    batch.
    """
    own = [
        one
        for one in answers
        if one.study == study.id
        and one.stove in study.stoves
        and one.inspector in study.inspectors
        and one.repeat <= study.repeats
    ]
    judged = [(one, judge_answers(checklist, one.answers, context)) for one in own]
    rows = []
    for check_id in study.checks:
        if check_id in checklist.check_by_id:
            looks = [
                Look(one.stove, one.inspector, one.repeat, found[check_id]) for one, found in judged
            ]
            rows.append(compare_looks(checklist.check_by_id[check_id], looks, size=context["size"]))
    done = {code: sum(one.inspector == code for one in own) for code in study.inspectors}
    return StudyReport(study, done, len(study.stoves) * study.repeats, tuple(rows))


def compare_looks(check: Check, looks: Iterable[Look], *, size: str) -> CheckAgreement:
    """Of the looks those that judged the check; missing ones are left out."""
    kept = [look for look in looks if look.found.verdict != "missing"]
    verdicts, why_no_verdicts = _compare_kept_verdicts(kept)
    readings, why_no_readings = None, ""
    if isinstance(check, NumberCheck):
        readings, why_no_readings = _compare_kept_readings(check, kept, check.limits_for(size))
    advice = (*_advise_readings(readings), *_advise_verdicts(verdicts))
    return CheckAgreement(
        check, len(kept), verdicts, readings, why_no_verdicts, why_no_readings, advice
    )


def _compare_kept_verdicts(kept: Sequence[Look]) -> tuple[VerdictAgreement | None, str]:
    """The agreement, or why there is none."""
    given = [GivenVerdict(*look[:3], look.found.verdict) for look in kept]
    try:
        return compare_verdicts(given), ""
    except BadInput as error:
        return None, str(error)


def _compare_kept_readings(
    check: NumberCheck, kept: Sequence[Look], limits: Limits | None
) -> tuple[ReadingAgreement | None, str]:
    lower, upper = (limits.lower, limits.upper) if limits else (None, None)
    if lower is None or upper is None or not lower < upper:
        lower = upper = None
    given = [
        GivenReading(*look[:3], look.found.value) for look in kept if look.found.value is not None
    ]
    try:
        return compare_readings(given, lower, upper, step=float(check.resolution)), ""
    except BadInput as error:
        return None, str(error)


def _advise_readings(found: ReadingAgreement | None) -> Iterable[str]:
    if found is None or found.share_of_limits is None:
        return
    yield _say_share(found, found.share_of_limits)
    yield from _say_what_is_open(found, found.share_of_limits)
    if len(found.inspectors) < FEW_INSPECTORS:
        yield phrase(
            "Two people say little about how far inspectors differ; that is why the upper end of "
            "the interval is far away."
        )


def _is_too_small(found: ReadingAgreement, share: Estimate) -> bool:
    """To call measuring good enough."""
    return found.stoves < FEW_MEASURED or share.high > LARGE_SHARE


def _say_share(found: ReadingAgreement, share: Estimate) -> Phrase:
    """How much of the limits' width measuring takes, and what to do about it."""
    if share.value <= SMALL_SHARE and _is_too_small(found, share):
        return phrase("Measuring seems to take a small part of the limits' width.")
    if share.value <= SMALL_SHARE:
        return phrase("Measuring takes a small part of the limits' width: good enough.")
    if share.value <= LARGE_SHARE:
        return phrase(
            "Measuring takes a part of the limits' width that matters near a limit: keep the "
            "guard, or use a finer tool."
        )
    if found.study.reproducibility > found.study.repeatability.value:
        return phrase(
            "The inspectors read differently from each other: measure one stove together and "
            "agree where to place the tool (retrain)."
        )
    return phrase(
        "Even one inspector reads differently each time: make a go/no-go gauge, or use a "
        "finer tool."
    )


def _say_what_is_open(found: ReadingAgreement, share: Estimate) -> Iterable[Phrase]:
    """What a study of this size leaves open."""
    if share.value <= LARGE_SHARE < share.high:
        yield phrase("The study is small: the true share may be above three tenths.")
    elif share.low < LARGE_SHARE < share.value:
        yield phrase("The study is small: the true share may be below three tenths.")
    elif share.value <= SMALL_SHARE and _is_too_small(found, share):
        yield phrase(
            "%(stoves)s stoves are too few to call it good enough; measure %(needed)s or more.",
            stoves=found.stoves,
            needed=FEW_MEASURED,
        )


def _advise_verdicts(found: VerdictAgreement | None) -> Iterable[str]:
    if found is None:
        return
    if found.agreement.kappa is None:
        yield phrase(
            "Everybody gave every stove the same verdict: include some faulty stoves, or the "
            "study shows nothing."
        )
        return
    unsure = [own.inspector for own in found.own if own.interval.high < 0.9]
    if unsure:
        yield phrase(
            "%(who)s judged the same stove differently the second time: better light, a longer "
            "look, or retrain.",
            who=join(", ", unsure),
        )
    low, high = found.agreement.low, found.agreement.high
    if high is not None and high < GOOD_KAPPA:
        yield phrase(
            "Agreement is weak: add a pair of photos, good and bad, to the check, and look at "
            "the stoves below together."
        )
    elif found.stoves < FEW_STOVES:
        yield phrase(
            "%(stoves)s stoves are too few to say whether agreement is good: it may lie anywhere "
            "in the interval of kappa. Judge %(needed)s or more.",
            stoves=found.stoves,
            needed=FEW_STOVES,
        )
    elif low is not None and low < GOOD_KAPPA:
        yield phrase("Agreement may be weak: the interval of kappa reaches below 0.6.")
    else:
        yield phrase("The inspectors agree well.")
