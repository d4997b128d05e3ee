"""What an answer keeps of a photo of holes: both pictures, what the photo proposed, and whether its
figure stands or a person's own.
"""

from collections.abc import Mapping
from typing import Annotated, Any, NamedTuple

from pydantic import Field

from qcapp.checklist.base_check import BaseCheck, PhotoCheck
from qcapp.inspection.event_parts import Count, EventPart, Hash, Reading
from qcapp.inspection.number import CANONICAL_PATTERN, number_value

MAX_HOLES = 400
# A figure is written to a tenth of a millimetre; a mean of such figures is rounded once more.
ROUNDING = 0.05 + 1e-6


class PhotoLength(EventPart):
    """A length in mm with its expanded uncertainty (k = 2)."""

    value: Reading
    uncertainty: Reading


class HolesProposal(EventPart):
    """count: holes found; margin: smallest to the edge; web: smallest between two holes, None with
    one hole; widths: of every hole, in the order of the numbers drawn. ruler: length of the control
    ruler as measured; step: height of the face over the frame; all in mm.
    """

    count: Count
    margin: PhotoLength
    web: PhotoLength | None
    widths: Annotated[list[PhotoLength], Field(max_length=MAX_HOLES)]
    ruler: Reading
    step: Annotated[str, Field(pattern=f"^-?{CANONICAL_PATTERN}$")]


class HolesPhoto(EventPart):
    """photo, overlay: names of the picture and of the same with the holes drawn in. is_taken: the
    answer's value is what was proposed; uncertainty: then its own, but of a count.
    """

    photo: Hash
    overlay: Hash
    proposal: HolesProposal
    is_taken: bool
    uncertainty: Reading | None = None


class Proposed(NamedTuple):
    """uncertainty: expanded (k = 2), None of a count. Lengths in mm."""

    value: float
    uncertainty: float | None


def find_proposed(check: BaseCheck, proposal: Mapping[str, Any]) -> Proposed | None:
    """What a photo proposed for this check; None where it has no such figure, or the check takes
    none. proposal: well-formed.

    A mean of widths has the largest uncertainty among them: print scale, plane and height are wrong
    for all of them alike (JCGM 100:2008, 5.2.2, note 1).
    """
    if not isinstance(check, PhotoCheck) or not check.photo:
        return None
    figure = check.photo_figure
    if figure is None:
        return Proposed(float(proposal["count"]), None)
    found = proposal["widths"] if figure == "width" else [proposal[figure]]
    lengths = [
        (number_value(one["value"]), number_value(one["uncertainty"]))
        for one in found
        if one is not None
    ]
    if not lengths:
        return None
    mean = sum(value for value, _sure in lengths) / len(lengths)
    return Proposed(mean, max(sure for _value, sure in lengths))


def is_sound(check: BaseCheck, answer: Mapping[str, Any]) -> bool:
    """Whether what a well-formed answer says of its photo can be: the check takes one, and a value
    said to be the photo's is what it proposed, with its uncertainty.
    """
    holes = answer.get("holes")
    if not holes:
        return True
    if not isinstance(check, PhotoCheck) or not check.photo:
        return False
    uncertainty = holes.get("uncertainty")
    if not holes["is_taken"] or answer.get("mark"):
        return uncertainty is None or bool(answer.get("mark"))
    proposed = find_proposed(check, holes["proposal"])
    values = answer.get("values") or []
    if proposed is None or len(values) != 1:
        return False
    if abs(number_value(values[0]) - proposed.value) > ROUNDING:
        return False
    given = None if uncertainty is None else number_value(uncertainty)
    return given == proposed.uncertainty
