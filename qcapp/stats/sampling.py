"""Which sample a batch needs, and what it decides: single plans by attributes.

The tables are data (`tables/`, whose README names their source and how sure they are).
"""

import csv
import hashlib
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

LEVELS = ("S-1", "S-2", "S-3", "S-4", "I", "II", "III")
REGIMES = ("normal", "tightened", "reduced")
# Above it the tables count faults for every hundred stoves: a stove may have several, and a share
# of stoves has no such limit (see `tables/README.md`).
MAX_AQL = 10.0
# Beyond this nobody makes stoves in one batch.
MAX_LOT = 1_000_000
_PERCENT = re.compile(r"[0-9]{1,4}(\.[0-9]{1,4})?")


@dataclass(frozen=True)
class Plan:
    """Inspect n stoves; ac failed or fewer accept, re or more reject.

    letter: of the batch size; plan_letter: where the table's arrow leads (the same without one).
    every_stove: the sample would not be smaller than the batch, so n is the batch.
    """

    letter: str
    plan_letter: str
    n: int
    ac: int
    re: int
    every_stove: bool


def get_code_letter(lot: int, level: str = "II") -> str:
    """Sample size code letter of a batch.

    Parameters
    ----------
    lot : int
        Stoves in the batch, >= 1 (a batch of one is taken with the smallest batches).
    level : str
        One of LEVELS; II unless agreed otherwise.

    Returns
    -------
    str
        A to R, without I and O.

    Raises
    ------
    BadInput
        For a lot below 1 or above MAX_LOT, or an unknown level.

    References
    ----------
    MIL-STD-105E (1989). Sampling Procedures and Tables for Inspection by Attributes. U.S.
    Department of Defense, Table I. ISO 2859-1:1999, Table 1 has the same letters.
    """
    if lot < 1 or lot != int(lot):
        raise BadInput(
            phrase("%(lot)s is not a number of stoves for a batch", lot=lot),
            "lot",
            phrase("give a whole number from 1"),
        )
    if lot > MAX_LOT:
        raise BadInput(
            phrase("a batch of %(lot)s stoves is larger than any yard makes", lot=lot),
            "lot",
            phrase("give at most %(largest)s", largest=MAX_LOT),
        )
    if level not in LEVELS:
        raise BadInput(
            phrase("level %(level)s is not known", level=level),
            "level",
            phrase("give one of %(known)s", known=", ".join(LEVELS)),
        )
    rows = _rows("acceptance_code_letters.csv")
    return next(row[level] for row in rows if not row["lot_max"] or lot <= int(row["lot_max"]))


def get_plan(lot: int, aql: str | float, level: str = "II", regime: str = "normal") -> Plan:
    """Single sampling plan of a batch.

    Parameters
    ----------
    lot : int
        Stoves in the batch, >= 1.
    aql : str or float
        Acceptance quality limit, percent of stoves: one of `list_aqls` (0.010 to 10).
    level : str
        One of LEVELS.
    regime : str
        One of REGIMES: the inspection in force (see `switching`).

    Returns
    -------
    Plan
        After following the arrow, which changes n as well as ac. When n is not smaller than the
        batch, every stove is inspected and ac and re stay as they are.

    Raises
    ------
    BadInput
        For a lot below 1, or an unknown level, regime or AQL.

    References
    ----------
    MIL-STD-105E (1989), Tables II-A (normal), II-B (tightened), II-C (reduced). Normal and
    tightened are the same numbers in ISO 2859-1:1999; reduced is not, see `tables/README.md`.
    """
    letter = get_code_letter(lot, level)
    if regime not in REGIMES:
        raise BadInput(
            phrase("inspection %(regime)s is not known", regime=regime),
            "regime",
            phrase("give one of %(known)s", known=", ".join(REGIMES)),
        )
    percent = _percent(aql)
    if percent > MAX_AQL:
        raise BadInput(
            phrase("AQL %(aql)s is not a limit for a percentage of stoves", aql=aql),
            "aql",
            phrase("above 10 the tables count faults per hundred stoves; give 10 or less"),
        )
    row = _plans(regime).get((letter, percent))
    if row is None:
        raise BadInput(
            phrase("AQL %(aql)s is not in the table", aql=aql),
            "aql",
            phrase("give one of %(known)s", known=", ".join(list_aqls())),
        )
    n = int(row["n"])
    return Plan(letter, row["plan_letter"], min(n, lot), int(row["ac"]), int(row["re"]), n >= lot)


def draw_positions(lot: int, n: int, seed: str) -> tuple[int, ...]:
    """The places of a batch that belong to the sample, by a rule that anyone can redo.

    Parameters
    ----------
    lot, n : int
        Stoves in the batch, stoves wanted, 1 <= n <= lot.
    seed : str
        Agreed text. Who knows it before the stoves are made knows the sample.

    Returns
    -------
    tuple of int
        n different places from 1 to lot in the order drawn: every place is ranked by the SHA-256
        (hexadecimal, lower case) of the UTF-8 text "seed:place", the smallest first. The first k of
        them are the sample of size k by the same seed.

    Raises
    ------
    BadInput
        For counts that cannot be or an empty seed.

    References
    ----------
    FIPS 180-4 (2015). Secure Hash Standard. NIST (the hash; ranking by it is this project's rule).
    """
    if not 1 <= n <= lot:
        raise BadInput(
            phrase("%(n)s of %(lot)s stoves cannot be drawn", n=n, lot=lot),
            "lot, n",
            phrase("give a number from 1 to the size of the batch"),
        )
    if not seed:
        raise BadInput(
            phrase("without a seed nobody can draw the sample again"),
            "seed",
            phrase("give any text"),
        )
    # The bytes stand in the same order as their hexadecimal text, in half the memory.
    ranked = sorted(
        range(1, lot + 1), key=lambda place: hashlib.sha256(f"{seed}:{place}".encode()).digest()
    )
    return tuple(ranked[:n])


def list_aqls() -> tuple[str, ...]:
    """The AQLs of the tables for percent of stoves as printed, smallest first (0.010 to 10)."""
    printed = {row["aql"] for row in _rows("acceptance_single_normal.csv")}
    return tuple(sorted((aql for aql in printed if float(aql) <= MAX_AQL), key=float))


def _percent(aql: str | float) -> float:
    # float() alone takes 2_5 for 25.
    if not _PERCENT.fullmatch(str(aql)):
        raise BadInput(
            phrase("AQL %(aql)s is not a number", aql=aql),
            "aql",
            phrase("give a percentage such as 2.5"),
        )
    return float(aql)


@cache
def _plans(regime: str) -> dict[tuple[str, float], dict[str, str]]:
    rows = _rows(f"acceptance_single_{regime}.csv")
    return {(row["letter"], float(row["aql"])): row for row in rows}


@cache
def _rows(name: str) -> tuple[dict[str, str], ...]:
    text = files("qcapp.stats").joinpath("tables", name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))
