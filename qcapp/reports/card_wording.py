"""What a card says, in plain words: the same on the page and on paper."""

from math import ceil, floor

from qcapp.i18n.phrase import Phrase, phrase
from qcapp.inspection.articles import count_articles
from qcapp.reports.card import FEWER, MORE, NOT_SHOWN, NOW_DAYS, TOO_FEW, Card
from qcapp.reports.groups import GroupRate

CHANGES: dict[str, Phrase] = {
    FEWER: phrase("Fewer faults than before, and not by chance."),
    MORE: phrase("More faults than before, and not by chance."),
    NOT_SHOWN: phrase("No more and no fewer than chance explains."),
    TOO_FEW: phrase("Too few to tell a change."),
}
NOW = phrase("Last %(n)s days", n=NOW_DAYS)
BEFORE = phrase("Before that")


def say_counts(rate: GroupRate, stage: str) -> Phrase:
    """“3 of 40 stoves faulty”, or what is inspected at that stage."""
    articles = count_articles(rate.inspected, stage)
    return phrase("%(failed)s of %(articles)s faulty", failed=rate.failed, articles=articles)


def say_interval(rate: GroupRate) -> str:
    """“of 100 like these, 2 to 20”: the interval rounded outwards; empty of nothing."""
    if rate.interval is None:
        return ""
    low, high = floor(100 * rate.interval.low), ceil(100 * rate.interval.high)
    return phrase("of 100 like these, %(low)s to %(high)s", low=low, high=high)


def say_nothing_to_work_on(card: Card) -> Phrase:
    if card.well is None:
        return phrase("Too few were inspected to say anything yet.")
    return phrase("No step stands out to work on.")
