"""What the store counts of pieces, for the reports on them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from qcapp.checklist.history import StepRef
from qcapp.inspection.pieces import Article, MadeFrom


@dataclass(frozen=True)
class StageFacts:
    """What the store counts of one checklist: see StageCount of queries."""

    checklist: str
    articles: int
    whole: int
    good: int


@dataclass(frozen=True)
class PieceFacts:
    """articles: ends of links, by key; claims: every link to the pieces among them; step_counts:
    (inspected, failed) of all articles; step_passes: {(article, step): failed} of the linked ones.
    """

    stages: Sequence[StageFacts]
    articles: Mapping[str, Article]
    links: Sequence[MadeFrom]
    claims: Sequence[MadeFrom]
    step_counts: Mapping[StepRef, tuple[int, int]]
    step_passes: Mapping[tuple[str, StepRef], bool]
