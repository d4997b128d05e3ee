"""What the readers of a check's kind are given."""

from dataclasses import dataclass

from qcapp.checklist.fields import Fields
from qcapp.checklist.surroundings import Surroundings


@dataclass(frozen=True)
class Block:
    """What a reader is given: the block's keys, the ids of the check's faults, what is around."""

    fields: Fields
    fault_ids: set[str]
    around: Surroundings
