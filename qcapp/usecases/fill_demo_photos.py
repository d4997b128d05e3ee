"""Some liners of the demo are measured in a photo: most figures are taken as they are, some typed.

Pictures are drawn with the very figures that are proposed.
"""

import hashlib
from collections.abc import Mapping
from random import Random
from typing import Any

from qcapp.checklist.base_check import PhotoCheck
from qcapp.checklist.model import Checklist
from qcapp.documents.drawn_grate import DrawnGrate, draw_grate
from qcapp.inspection.holes import find_proposed
from qcapp.inspection.judge import counts_as_fail, judge_answers

Answers = dict[str, Any]
RULER, STEP = "179.8", "0"
# Expanded (k = 2) in mm: what a picture of a sheet that lies flat has.
UNCERTAINTY = {"margin": ("0.4", "0.5"), "web": ("0.3", "0.4"), "width": ("0.2", "0.3")}
# Of three figures one is typed over.
TYPED = 3


def measure_in_photo(
    checklist: Checklist, answers: Mapping[str, Any], context: Mapping[str, Any], rng: Random
) -> tuple[Answers, dict[str, bytes]]:
    """(the answers of its photo checks as a photo gave them, pictures by name). answers: good ones,
    with a reading for each of them. None is changed where the stove would no longer be good.
    """
    judged = judge_answers(checklist, answers, context)
    checks = [one for one in checklist.checks if isinstance(one, PhotoCheck) and one.photo]
    true: dict[str, float] = {
        one.photo_figure or "count": judged[one.id].value or 0.0 for one in checks
    }
    lengths = {
        figure: {
            "value": f"{true[figure] + rng.gauss(0, float(sure) / 2):.1f}",
            "uncertainty": sure,
        }
        for figure, choices in UNCERTAINTY.items()
        for sure in [rng.choice(choices)]
    }
    proposal = {
        "count": round(true["count"]),
        "margin": lengths["margin"],
        "web": lengths["web"],
        "widths": [lengths["width"]] * round(true["count"]),
        "ruler": RULER,
        "step": STEP,
    }
    sizes = {figure: float(one["value"]) for figure, one in lengths.items()}
    pictures = {hashlib.sha256(one).hexdigest(): one for one in draw_grate(DrawnGrate(**sizes))}
    names = list(pictures)
    taken = {one.id: _answer(one, answers[one.id], proposal, names, rng) for one in checks}
    after = judge_answers(checklist, {**answers, **taken}, context)
    if any(counts_as_fail(one, after[one.id].verdict) for one in checklist.checks):
        return {}, {}
    return taken, pictures


def _answer(
    check: PhotoCheck,
    typed: Mapping[str, Any],
    proposal: Mapping[str, Any],
    names: list[str],
    rng: Random,
) -> Answers:
    photo, overlay = names
    kept = {"photo": photo, "overlay": overlay, "proposal": proposal, "is_taken": False}
    proposed = find_proposed(check, proposal)
    is_typed = check.photo_figure is not None and rng.randrange(TYPED) == 0
    if proposed is None or is_typed:
        return {**typed, "photos": names, "holes": kept}
    kept["is_taken"] = True
    if proposed.uncertainty is None:
        return {"values": [str(round(proposed.value))], "photos": names, "holes": kept}
    kept["uncertainty"] = f"{proposed.uncertainty:.1f}"
    return {"values": [f"{proposed.value:.1f}"], "photos": names, "holes": kept}
