"""What photos proposed beside what was recorded: of one inspection, and of many by figure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import hypot
from statistics import mean, stdev
from typing import Any

from qcapp.checklist.base_check import NumberCheck, PhotoCheck
from qcapp.checklist.check_kinds import Check
from qcapp.checklist.model import Checklist
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.holes import find_proposed
from qcapp.inspection.judge import Judgement, judge_answers

COUNT = "count"
FIGURES: dict[str, Phrase] = {
    COUNT: phrase("Number of holes"),
    "margin": phrase("Smallest margin to the edge"),
    "web": phrase("Smallest web between two holes"),
    "width": phrase("Mean width of the holes"),
}
# What decimals differ by is a hair off in binary.
SLACK = 1e-9


@dataclass(frozen=True)
class PhotoFigure:
    """One check that a photo was taken for. figure: of FIGURES; proposed, value: in the check's
    unit; uncertainty: the photo's, expanded (k = 2), None of a count; value: what was held against
    the limits, None where there is none; is_taken: it is what was proposed, as it was; holes: what
    the answer keeps of the photo.
    """

    check: NumberCheck
    figure: str
    proposed: float
    uncertainty: float | None
    value: float | None
    is_taken: bool
    holes: Mapping[str, Any]

    @property
    def difference(self) -> float | None:
        """Of a value that a person gave, from what was proposed."""
        return None if self.is_taken or self.value is None else self.value - self.proposed

    @property
    def is_beyond(self) -> bool:
        """Whether the two differ by more than both uncertainties together explain: E_n of ISO 13528
        is above 1. A count has no uncertainty: any difference is one.
        """
        both = hypot(self.uncertainty or 0.0, self.check.uncertainty)
        return self.difference is not None and abs(self.difference) > both + SLACK


@dataclass(frozen=True)
class FigureComparison:
    """One figure over many inspections. proposals: taken + typed + without_value; taken: as they
    were; typed: another value given by a person, or the same one by own hand; same: of typed, those
    with no difference. mean, spread (standard deviation, from two), least, most: of the differences
    of typed ones, value less proposal; beyond: of typed, those that both uncertainties do not
    explain.
    """

    figure: str
    unit: str
    proposals: int
    taken: int
    typed: int
    same: int
    beyond: int
    mean: float | None
    spread: float | None
    least: float | None
    most: float | None

    @property
    def without_value(self) -> int:
        return self.proposals - self.taken - self.typed


def list_photo_figures(
    checklist: Checklist, body: Mapping[str, Any], judged: Mapping[str, Judgement] | None = None
) -> list[PhotoFigure]:
    """body: of an inspection as it counts; judged: of it, where that is known."""
    answers = {key: one["holes"] for key, one in body["answers"].items() if one.get("holes")}
    if not answers:
        return []
    context = {"size": body["size"], "batch": body["batch_attributes"]}
    found = judged or judge_answers(checklist, body["answers"], context)
    figures = (
        _read_figure(check, answers[check.id], found[check.id])
        for check in checklist.checks
        if check.id in answers
    )
    return [one for one in figures if one]


def _read_figure(
    check: Check, holes: Mapping[str, Any], judgement: Judgement
) -> PhotoFigure | None:
    proposed = find_proposed(check, holes["proposal"])
    if proposed is None or not isinstance(check, PhotoCheck):
        return None
    return PhotoFigure(
        check,
        check.photo_figure or COUNT,
        # As it was written: a mean is rounded like its widths.
        round(proposed.value, 1),
        proposed.uncertainty,
        judgement.value,
        holes["is_taken"] and judgement.value is not None,
        holes,
    )


def compare_photo_figures(found: Iterable[PhotoFigure]) -> list[FigureComparison]:
    """A row for each figure that some photo proposed, in the order of FIGURES."""
    by_figure: dict[str, list[PhotoFigure]] = {}
    for one in found:
        by_figure.setdefault(one.figure, []).append(one)
    return [_compare(figure, by_figure[figure]) for figure in FIGURES if figure in by_figure]


def _compare(figure: str, found: list[PhotoFigure]) -> FigureComparison:
    typed = [one.difference for one in found if one.difference is not None]
    return FigureComparison(
        figure,
        found[0].check.unit,
        proposals=len(found),
        taken=sum(one.is_taken for one in found),
        typed=len(typed),
        same=sum(abs(one) <= SLACK for one in typed),
        beyond=sum(one.is_beyond for one in found),
        mean=mean(typed) if typed else None,
        spread=stdev(typed) if len(typed) > 1 else None,
        least=min(typed, default=None),
        most=max(typed, default=None),
    )
