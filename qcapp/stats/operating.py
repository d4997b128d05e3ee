"""What a sample promises: chance of acceptance, the bad stoves left, what goes out on average."""

from dataclasses import dataclass

import numpy as np
import scipy

from qcapp.errors import BadInput
from qcapp.stats.array import Array
from qcapp.stats.discrete import hypergeometric_cdf
from qcapp.stats.interval import check_share


@dataclass(frozen=True)
class CurvePoint:
    """bad stoves in the batch, their share of it, and the chance that the batch is accepted."""

    bad: int
    share: float
    acceptance: float


def operating_curve(lot: int, n: int, ac: int) -> tuple[CurvePoint, ...]:
    """Chance of acceptance for every number of bad stoves a batch can hold.

    Parameters
    ----------
    lot, n, ac : int
        Stoves in the batch, stoves inspected (drawn without putting back), bad ones still accepted.

    Returns
    -------
    tuple of CurvePoint
        lot + 1 points, bad = 0 to lot, exact (hypergeometric).

    Raises
    ------
    BadInput
        Unless 1 <= n <= lot, ac >= 0, lot >= 1.

    Notes
    -----
    One more bad stove loses the batch exactly when ac bad ones are in the sample and the stove that
    turned bad is among the others of it. What each stove loses adds up to 1, and summed from the
    far end nothing cancels: all points at the cost of one.

    References
    ----------
    Dodge, H. F. and Romig, H. G. (1959). Sampling Inspection Tables, 2nd ed. Wiley, New York
    (the batch itself, type A curve).
    """
    _check_sample(lot, n, ac)
    acceptance = np.ones(lot + 1)
    if ac < n:
        acceptance[ac + 1 :] = 0.0
        lost = _losses(lot, n, ac)
        acceptance[ac + 1 : ac + len(lost)] = np.cumsum(lost[:0:-1])[::-1]
    return tuple(CurvePoint(bad, bad / lot, float(chance)) for bad, chance in enumerate(acceptance))


def _losses(lot: int, n: int, ac: int) -> Array:
    """What the chance of acceptance loses at each step, from ac bad stoves on; adds up to 1."""
    bad = np.arange(ac, lot - n + ac, dtype=float)
    ratios = (bad + 1) * (lot - bad - n + ac) / ((bad + 1 - ac) * (lot - bad - 1))
    largest = int(np.argmax(np.concatenate(([0.0], np.cumsum(np.log(ratios))))))
    below = np.cumprod(1 / ratios[:largest][::-1])[::-1]
    lost: Array = np.concatenate((below, [1.0], np.cumprod(ratios[largest:])))
    return lost / float(lost.sum())


def bad_stoves_bound(lot: int, n: int, found: int, level: float = 0.95) -> int:
    """Most bad stoves left among those not inspected, by what the sample found.

    Parameters
    ----------
    lot, n, found : int
        Stoves in the batch, stoves inspected, faulty ones among these.
    level : float
        One-sided confidence: a batch with more bad stoves left would have shown more in the sample
        than were found in at least this share of samples.

    Returns
    -------
    int
        0 to lot - n; the found ones are known and not in it. 0 when every stove was inspected.

    Raises
    ------
    BadInput
        For counts that cannot be or a level outside (0, 1).

    References
    ----------
    Buonaccorsi, J. P. (1987). A note on confidence intervals for proportions in finite populations.
    The American Statistician 41, 215-218 (exact limits from the hypergeometric tail).
    """
    _check_sample(lot, n, 0)
    check_share(level, "level")
    if not 0 <= found <= n:
        raise BadInput(f"{found} found in {n} inspected cannot be", "found", "check the counts")
    low, high = found, found + lot - n
    while low < high:  # the tail falls as bad stoves are added: halve the range
        middle = (low + high + 1) // 2
        if hypergeometric_cdf(found, lot, middle, n) > 1 - level:
            low = middle
        else:
            high = middle - 1
    return low - found


@dataclass(frozen=True)
class OutgoingPoint:
    """Shares of stoves with a fault: as made, and as they go out after inspection."""

    made: float
    outgoing: float


def outgoing_quality(lot: int, n: int, ac: int, made: float) -> float:
    """Average share of faulty stoves that go out (AOQ) from a making of one rate.

    Parameters
    ----------
    lot, n, ac : int
        Stoves in each batch, stoves inspected, faulty ones still accepted.
    made : float
        Share of stoves made with a fault, 0 to 1.

    Returns
    -------
    float
        Fraction, the long-run average over batches.

    Raises
    ------
    BadInput
        Unless 1 <= n <= lot, ac >= 0, 0 <= made <= 1.

    Notes
    -----
    It holds where every refused batch is inspected whole, and faulty stoves that are found are
    repaired or replaced by good ones: then faulty stoves go out only among the uninspected ones of
    accepted batches, chance of acceptance x made x (lot - n) / lot.

    References
    ----------
    Dodge, H. F. and Romig, H. G. (1959). Sampling Inspection Tables, 2nd ed. Wiley, New York.
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.2.3.2 (whose table leaves out the last
    factor, which its formula has).
    """
    _check_sample(lot, n, ac)
    if not 0 <= made <= 1:
        raise BadInput(f"{made} is not between 0 and 1", "made", "give a fraction such as 0.02")
    return float(_outgoing(lot, n, ac, np.array([made]))[0])


def find_outgoing_limit(lot: int, n: int, ac: int) -> OutgoingPoint:
    """The worst average share that goes out, whatever the making (AOQL), and the making it is of.

    Parameters, errors, conditions and sources as `outgoing_quality`. Within 1e-6 of both.
    """
    _check_sample(lot, n, ac)
    low, high = 0.0, 1.0
    for _ in range(3):  # each round looks a thousand times closer about the highest point
        shares = np.linspace(low, high, 2001)
        place = int(np.argmax(_outgoing(lot, n, ac, shares)))
        made = float(shares[place])
        low, high = float(shares[max(place - 1, 0)]), float(shares[min(place + 1, 2000)])
    return OutgoingPoint(made, outgoing_quality(lot, n, ac, made))


def outgoing_curve(lot: int, n: int, ac: int, most: float) -> tuple[OutgoingPoint, ...]:
    """What goes out for 41 makings from 0 to `most`. Otherwise as `outgoing_quality`."""
    _check_sample(lot, n, ac)
    check_share(most, "most")
    shares = np.linspace(0, most, 41)
    out = _outgoing(lot, n, ac, shares)
    return tuple(OutgoingPoint(float(p), float(q)) for p, q in zip(shares, out, strict=True))


def _outgoing(lot: int, n: int, ac: int, made: Array) -> Array:
    accepted = scipy.special.bdtr(min(ac, n), n, made)
    out: Array = accepted * made * (lot - n) / lot
    return out


def _check_sample(lot: int, n: int, ac: int) -> None:
    if lot < 1 or not 1 <= n <= lot or ac < 0:
        raise BadInput(
            f"{n} of {lot} stoves accepting {ac} cannot be", "lot, n, ac", "check the numbers"
        )
