"""What each person's stoves say about that person alone, as a likelihood on a grid.

The ground under `person_groups`: one row of log likelihood for each person, so that how much people
spread can be integrated out there without a formula that needs many faults.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import scipy

from qcapp.stats.array import Array

# Log odds of a fault: from one stove in ten thousand to all but two in a hundred.
RATES: Array = np.arange(-9.0, 4.0001, 0.125)
# Change of the log odds.
CHANGES: Array = np.arange(-8.0, 8.0001, 0.125)
# No person's rate is taken as known better than a hundred faults would tell it (a standard error of
# 0.1 on the log odds): finer than the grid, and finer than people are alike.
MOST_FAULTS = 100.0
# Standard deviations of the log odds: batches are drawn a little towards each other, so that one
# without a fault has a place; people hardly at all.
BATCH_SD, PERSON_SD = 1.0, 3.0


class PersonCount(NamedTuple):
    """Stoves of one person, in group a or not, in one batch."""

    person: str
    in_a: bool
    batch: str
    failed: int
    inspected: int


def rate_likelihoods(counts: Sequence[PersonCount]) -> dict[tuple[str, bool], Array]:
    """Log likelihood of each person's rate, by (person, in group a), over RATES.

    Batches are held against each other by an additive logistic model of person and batch; the
    likelihood is that of the person's log odds in a batch of the usual difficulty. Largest value 0.
    """
    kept = [one for one in counts if one.inspected]
    keys = sorted({(one.person, one.in_a) for one in kept})
    batches = sorted({one.batch for one in kept})
    cells = _Cells.of(kept, keys, batches)
    levels, effects = _fit_batches(cells, len(keys), len(batches))
    known = _information(cells, levels, effects)
    # Each person's cells lie side by side.
    ends = np.searchsorted(cells.person, np.arange(len(keys) + 1))
    found = {}
    for place, key in enumerate(keys):
        own = slice(ends[place], ends[place + 1])
        log_odds = RATES[None, :] + effects[cells.batch[own], None]
        terms = cells.failed[own, None] * log_odds - cells.inspected[own, None] * np.logaddexp(
            0, log_odds
        )
        likelihood = terms.sum(0) * min(1.0, MOST_FAULTS / known[place])
        found[key] = likelihood - likelihood.max()
    return found


class _Cells(NamedTuple):
    """Who worked in which batch, in the order of persons: few of all pairs, so a yard of many years
    needs no table of all. person, batch: places of them.
    """

    person: npt.NDArray[np.intp]
    batch: npt.NDArray[np.intp]
    failed: Array
    inspected: Array

    @classmethod
    def of(
        cls, counts: Sequence[PersonCount], keys: list[tuple[str, bool]], batches: list[str]
    ) -> "_Cells":
        persons = {key: place for place, key in enumerate(keys)}
        places = {batch: place for place, batch in enumerate(batches)}
        person = np.array([persons[one.person, one.in_a] for one in counts])
        order = np.argsort(person, kind="stable")
        batch = np.array([places[one.batch] for one in counts])
        failed = np.array([one.failed for one in counts], dtype=float)
        inspected = np.array([one.inspected for one in counts], dtype=float)
        return cls(person[order], batch[order], failed[order], inspected[order])


def _fit_batches(cells: _Cells, people_count: int, batch_count: int) -> tuple[Array, Array]:
    """Log odds of each person and effect of each batch (0 on the average), penalised."""
    rate = (cells.failed.sum() + 0.5) / (cells.inspected.sum() + 1)
    start = float(scipy.special.logit(rate))
    people, batches = np.zeros(people_count), np.zeros(batch_count)
    for _ in range(60):
        before = people
        others = start + batches[cells.batch]
        people = _improve(cells, cells.person, others, people, PERSON_SD)
        others = start + people[cells.person]
        batches = _improve(cells, cells.batch, others, batches, BATCH_SD)
        if np.abs(people - before).max() < 1e-4:
            break
    middle = float((batches[cells.batch] * cells.inspected).sum() / cells.inspected.sum())
    return start + people + middle, batches - middle


def _improve(
    cells: _Cells, place: npt.NDArray[np.intp], others: Array, own: Array, sd: float
) -> Array:
    """One step towards the best effects of persons or of batches. place: whose each cell is;
    others: the rest of its log odds.
    """
    chance = scipy.special.expit(own[place] + others)
    tells = cells.inspected * chance * (1 - chance)
    weight = np.bincount(place, tells, len(own)) + sd**-2
    off = np.bincount(place, cells.failed - cells.inspected * chance, len(own))
    return np.asarray(own + np.clip((off - own * sd**-2) / weight, -1, 1))


def _information(cells: _Cells, levels: Array, effects: Array) -> Array:
    chance = scipy.special.expit(levels[cells.person] + effects[cells.batch])
    tells = np.bincount(cells.person, cells.inspected * chance * (1 - chance), len(levels))
    return np.asarray(np.maximum(tells, 1e-9))


def change_likelihood(
    before_failed: int, before_inspected: int, after_failed: int, after_inspected: int
) -> Array:
    """Log likelihood of the change of one person's log odds, over CHANGES; largest value 0.

    Given how many of the person's stoves failed in all, so that the rate itself drops out (the
    noncentral hypergeometric distribution).

    References
    ----------
    Breslow, N. E. and Day, N. E. (1980). Statistical Methods in Cancer Research I. IARC, Lyon,
    section 4.4.
    """
    failed = before_failed + after_failed
    low, high = max(0, failed - before_inspected), min(failed, after_inspected)
    counts = np.arange(low, high + 1, dtype=float)
    ways = _log_choose(after_inspected, counts) + _log_choose(before_inspected, failed - counts)
    weights = ways[:, None] + counts[:, None] * CHANGES
    likelihood = after_failed * CHANGES - scipy.special.logsumexp(weights, axis=0)
    return np.asarray(likelihood - likelihood.max())


def _log_choose(of: int, counts: Array) -> Array:
    gammaln = scipy.special.gammaln
    return np.asarray(gammaln(of + 1) - gammaln(counts + 1) - gammaln(of - counts + 1))
