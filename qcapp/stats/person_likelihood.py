"""What each person's stoves say about that person alone, as a likelihood on a grid.

The ground under `person_groups`: one row of log likelihood for each person, so that how much people
spread can be integrated out there without a formula that needs many faults.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
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
    places = {key: place for place, key in enumerate(keys)}
    of_batch = {batch: place for place, batch in enumerate(batches)}
    rows = np.array([places[one.person, one.in_a] for one in kept])
    columns = np.array([of_batch[one.batch] for one in kept])
    table = np.zeros((2, len(keys), len(batches)))
    np.add.at(table[0], (rows, columns), [one.failed for one in kept])
    np.add.at(table[1], (rows, columns), [one.inspected for one in kept])
    failed, inspected = table
    levels, effects = _fit_batches(failed, inspected)
    known = _information(inspected, levels[:, None] + effects)
    found = {}
    for place, key in enumerate(keys):
        used = inspected[place] > 0
        log_odds = RATES[None, :] + effects[used, None]
        terms = failed[place, used, None] * log_odds - inspected[place, used, None] * np.logaddexp(
            0, log_odds
        )
        likelihood = terms.sum(0) * min(1.0, MOST_FAULTS / known[place])
        found[key] = likelihood - likelihood.max()
    return found


def _fit_batches(failed: Array, inspected: Array) -> tuple[Array, Array]:
    """Log odds of each person and effect of each batch (0 on the average), penalised."""
    rate = (failed.sum() + 0.5) / (inspected.sum() + 1)
    start = float(scipy.special.logit(rate))
    people, batches = np.zeros(len(failed)), np.zeros(failed.shape[1])
    for _ in range(60):
        before = people
        people = _improve(failed, inspected, start + batches, people, PERSON_SD)
        batches = _improve(failed.T, inspected.T, start + people, batches, BATCH_SD)
        if np.abs(people - before).max() < 1e-4:
            break
    middle = float((batches * inspected.sum(0)).sum() / inspected.sum())
    return start + people + middle, batches - middle


def _improve(failed: Array, inspected: Array, others: Array, own: Array, sd: float) -> Array:
    """One step towards the best effects of the rows, the columns' log odds given."""
    chance = scipy.special.expit(own[:, None] + others)
    weight = (inspected * chance * (1 - chance)).sum(1) + sd**-2
    step = ((failed - inspected * chance).sum(1) - own * sd**-2) / weight
    return np.asarray(own + np.clip(step, -1, 1))


def _information(inspected: Array, log_odds: Array) -> Array:
    chance = scipy.special.expit(log_odds)
    return np.asarray(np.maximum((inspected * chance * (1 - chance)).sum(1), 1e-9))


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
