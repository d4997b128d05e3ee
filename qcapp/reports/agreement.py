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
from qcapp.stats.repeat_study import RepeatStudy, choose_block, study_repeats

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
    """First looks at the stoves that two inspectors or more judged.

    alike: stoves with one verdict from all who judged them. method: cohen (two inspectors) or
    fleiss. own: each inspector against the own repeats. differing: (stove, ((inspector, verdict),
    ...)). left_out: stoves that only one inspector judged.
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
    width between the limits, None with one limit. stoves, left_out: counts. inspectors: those whose
    readings are complete on these stoves; set_aside: the others, whose readings would cost more
    stoves than they bring."""

    inspectors: tuple[str, ...]
    stoves: int
    repeats: int
    study: RepeatStudy
    share_of_limits: Estimate | None
    left_out: int
    set_aside: tuple[str, ...]


def compare_verdicts(given: Iterable[GivenVerdict], level: float = 0.95) -> VerdictAgreement:
    """Raises BadInput when there are not two inspectors who judged the same stove."""
    by_look = _by_look(given, lambda one: one.verdict)
    inspectors = _list_inspectors(by_look)
    first: dict[str, dict[str, str]] = {}
    for (stove, inspector, _repeat), verdict in sorted(by_look.items()):
        first.setdefault(stove, {}).setdefault(inspector, verdict)
    shared = {stove: looks for stove, looks in sorted(first.items()) if len(looks) > 1}
    if not shared:
        raise BadInput(
            phrase("no stove was judged by two inspectors"),
            "inspector",
            phrase("let another one judge the same stoves"),
        )
    alike = sum(len(set(looks.values())) == 1 for looks in shared.values())
    method, agreement = _find_kappa(list(shared.values()), inspectors, level)
    return VerdictAgreement(
        inspectors=inspectors,
        stoves=len(shared),
        alike=Same("all", alike, len(shared), wilson_interval(alike, len(shared), level)),
        method=method,
        agreement=agreement,
        own=tuple(_compare_own(by_look, inspectors, level)),
        differing=tuple(
            (stove, tuple(sorted(looks.items())))
            for stove, looks in shared.items()
            if len(set(looks.values())) > 1
        ),
        left_out=len(first) - len(shared),
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
    looks: dict[str, dict[str, list[str]]] = {name: {} for name in inspectors}
    for (stove, inspector, _repeat), verdict in by_look.items():
        looks[inspector].setdefault(stove, []).append(verdict)
    for name, by_stove in looks.items():
        repeated = [given for given in by_stove.values() if len(given) > 1]
        if repeated:
            same = sum(len(set(given)) == 1 for given in repeated)
            yield Same(name, same, len(repeated), wilson_interval(same, len(repeated), level))


def compare_readings(
    given: Iterable[GivenReading],
    lower: float | None = None,
    upper: float | None = None,
    level: float = 0.95,
    step: float = 0.0,
) -> ReadingAgreement:
    """Raises BadInput when there are not two stoves that two inspectors measured twice each.

    step: the tool's, in the unit of the readings; 0 where it is not known.
    """
    by_look = _by_look(given, lambda one: one.value)
    everybody = _list_inspectors(by_look)
    by_stove: dict[str, dict[str, list[float]]] = {}
    for (stove, inspector, _repeat), value in sorted(by_look.items()):
        by_stove.setdefault(stove, {}).setdefault(inspector, []).append(value)
    counts = [[len(own.get(name, ())) for name in everybody] for own in by_stove.values()]
    who, repeats, kept = choose_block(counts)
    if not repeats:
        raise BadInput(
            phrase("two stoves that every inspector measured twice are needed"),
            "stove, inspector, repeat",
            phrase("complete the study"),
        )
    inspectors = tuple(everybody[place] for place in who)
    stoves = list(by_stove.values())
    cube = [[stoves[place][name][:repeats] for name in inspectors] for place in kept]
    study = study_repeats(cube, level, step)
    return ReadingAgreement(
        inspectors,
        len(kept),
        repeats,
        study,
        _find_share(study, lower, upper, level),
        len(stoves) - len(kept),
        tuple(name for name in everybody if name not in inspectors),
    )


def _find_share(
    study: RepeatStudy, lower: float | None, upper: float | None, level: float
) -> Estimate | None:
    if lower is None or upper is None:
        return None
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
    return Estimate(value, low, high, level)


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
