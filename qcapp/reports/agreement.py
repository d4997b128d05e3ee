"""Do inspectors agree: verdicts and readings of the same stoves, given without seeing the
others'.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase
from qcapp.stats.agreement import Agreement, cohen_kappa, fleiss_kappa
from qcapp.stats.interval import Estimate, Interval
from qcapp.stats.proportion import wilson_interval
from qcapp.stats.repeat_study import RepeatStudy, study_repeats

# A making that fills its limits fits six standard deviations between them; so is measuring weighed.
SIGMAS = 6


@dataclass(frozen=True)
class GivenVerdict:
    """repeat: 1 for the first look at the stove, 2 for the second, ..."""

    stove: str
    inspector: str
    repeat: int
    verdict: str


@dataclass(frozen=True)
class GivenReading:
    """value: in the check's unit."""

    stove: str
    inspector: str
    repeat: int
    value: float


# Stove, inspector, repeat.
LookKey = tuple[str, str, int]
Given = TypeVar("Given", GivenVerdict, GivenReading)
Value = TypeVar("Value", str, float)


@dataclass(frozen=True)
class Same:
    """On `same` of `of` stoves the verdict was the same; Wilson's interval."""

    inspector: str
    same: int
    of: int
    interval: Interval


@dataclass(frozen=True)
class VerdictAgreement:
    """First looks of all inspectors on the stoves that every one of them judged.

    alike: stoves with one verdict from all. method: cohen (two inspectors) or fleiss. own: each
    inspector against the own repeats. differing: (stove, ((inspector, verdict), ...)).
    left_out: stoves that not everybody judged.
    """

    inspectors: tuple[str, ...]
    stoves: int
    alike: Same
    method: str
    agreement: Agreement
    own: tuple[Same, ...]
    differing: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    left_out: int


@dataclass(frozen=True)
class ReadingAgreement:
    """Standard deviations in the unit of the readings; share_of_limits: six of measuring over the
    width between the limits, None with one limit. stoves, left_out: counts."""

    inspectors: tuple[str, ...]
    stoves: int
    repeats: int
    study: RepeatStudy
    share_of_limits: Estimate | None
    left_out: int


def compare_verdicts(given: Iterable[GivenVerdict], level: float = 0.95) -> VerdictAgreement:
    """Raises BadInput when there are not two inspectors who judged the same stove."""
    by_look = _by_look(given, lambda one: one.verdict)
    inspectors = _list_inspectors(by_look)
    first: dict[str, dict[str, str]] = {}
    for (stove, inspector, _repeat), verdict in sorted(by_look.items()):
        first.setdefault(stove, {}).setdefault(inspector, verdict)
    whole = {
        stove: looks for stove, looks in sorted(first.items()) if len(looks) == len(inspectors)
    }
    if not whole:
        raise BadInput(
            phrase("no stove was judged by all inspectors"),
            "inspector",
            phrase("complete at least one stove"),
        )
    alike = sum(len(set(looks.values())) == 1 for looks in whole.values())
    method, agreement = _find_kappa(list(whole.values()), inspectors, level)
    return VerdictAgreement(
        inspectors=inspectors,
        stoves=len(whole),
        alike=Same("all", alike, len(whole), wilson_interval(alike, len(whole), level)),
        method=method,
        agreement=agreement,
        own=tuple(_compare_own(by_look, inspectors, level)),
        differing=tuple(
            (stove, tuple(sorted(looks.items())))
            for stove, looks in whole.items()
            if len(set(looks.values())) > 1
        ),
        left_out=len(first) - len(whole),
    )


def _find_kappa(
    looks: Sequence[dict[str, str]], inspectors: tuple[str, ...], level: float
) -> tuple[str, Agreement]:
    verdicts = sorted({verdict for look in looks for verdict in look.values()})
    if len(inspectors) == 2:
        pairs = Counter((look[inspectors[0]], look[inspectors[1]]) for look in looks)
        # Chance agreement of one verdict alone is 1: a second, empty row keeps the table a table.
        names = verdicts if len(verdicts) > 1 else [*verdicts, ""]
        return "cohen", cohen_kappa([[pairs[a, b] for b in names] for a in names], level)
    counts = [[list(look.values()).count(verdict) for verdict in verdicts] for look in looks]
    if len(counts) < 2:
        raise BadInput(
            phrase("one stove says nothing about three inspectors"),
            "stove",
            phrase("judge at least two stoves"),
        )
    return "fleiss", fleiss_kappa(counts, level)


def _compare_own(
    by_look: Mapping[LookKey, str], inspectors: tuple[str, ...], level: float
) -> Iterable[Same]:
    for name in inspectors:
        stoves: dict[str, list[str]] = {}
        for (stove, inspector, _repeat), verdict in by_look.items():
            if inspector == name:
                stoves.setdefault(stove, []).append(verdict)
        repeated = [looks for looks in stoves.values() if len(looks) > 1]
        if repeated:
            same = sum(len(set(looks)) == 1 for looks in repeated)
            yield Same(name, same, len(repeated), wilson_interval(same, len(repeated), level))


def compare_readings(
    given: Iterable[GivenReading],
    lower: float | None = None,
    upper: float | None = None,
    level: float = 0.95,
) -> ReadingAgreement:
    """Raises BadInput when there are not two stoves that two inspectors measured twice each."""
    by_look = _by_look(given, lambda one: one.value)
    inspectors = _list_inspectors(by_look)
    counts = Counter((stove, inspector) for stove, inspector, _repeat in by_look)
    stoves = sorted({stove for stove, _ in counts})
    repeats = _choose_repeats([min(counts[stove, name] for name in inspectors) for stove in stoves])
    whole = [
        stove for stove in stoves if all(counts[stove, name] >= repeats for name in inspectors)
    ]
    cube = [
        [_readings_of(by_look, stove, name)[:repeats] for name in inspectors] for stove in whole
    ]
    if len(whole) < 2:
        raise BadInput(
            phrase("two stoves that every inspector measured twice are needed"),
            "stove, inspector, repeat",
            phrase("complete the study"),
        )
    study = study_repeats(cube, level)
    share = None
    if lower is not None and upper is not None:
        if not lower < upper:
            raise BadInput(
                phrase(
                    "the limits %(lower)s and %(upper)s are in the wrong order",
                    lower=lower,
                    upper=upper,
                ),
                "lower, upper",
                phrase("swap them"),
            )
        found = study.measuring
        value, low, high = (
            SIGMAS * end / (upper - lower) for end in (found.value, found.low, found.high)
        )
        share = Estimate(value, low, high, level)
    return ReadingAgreement(inspectors, len(whole), repeats, study, share, len(stoves) - len(whole))


def _choose_repeats(done: Sequence[int]) -> int:
    """The number of repeats (two or more) that keeps the most readings; done: by stove."""
    return max(
        range(2, max(done) + 1),
        key=lambda repeats: (repeats * sum(n >= repeats for n in done), -repeats),
        default=2,
    )


def _readings_of(by_look: Mapping[LookKey, float], stove: str, inspector: str) -> list[float]:
    return [
        value for (s, i, _repeat), value in sorted(by_look.items()) if (s, i) == (stove, inspector)
    ]


def _by_look(given: Iterable[Given], value_of: Callable[[Given], Value]) -> dict[LookKey, Value]:
    by_look: dict[LookKey, Value] = {}
    for one in given:
        look = (one.stove, one.inspector, one.repeat)
        if look in by_look:
            raise BadInput(
                phrase(
                    "look %(repeat)s of %(inspector)s at stove %(stove)s is there twice",
                    inspector=one.inspector,
                    stove=one.stove,
                    repeat=one.repeat,
                ),
                "stove, inspector, repeat",
                phrase("number the looks 1, 2, 3"),
            )
        by_look[look] = value_of(one)
    return by_look


def _list_inspectors(by_look: Iterable[LookKey]) -> tuple[str, ...]:
    inspectors = tuple(sorted({inspector for _stove, inspector, _repeat in by_look}))
    if len(inspectors) < 2:
        raise BadInput(
            phrase("two inspectors are needed"),
            "inspector",
            phrase("let another one judge the same stoves"),
        )
    return inspectors
