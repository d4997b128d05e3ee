"""What a photo of a fault would be of; whoever shows the scenario draws it."""

from collections.abc import Callable
from dataclasses import dataclass

from qcapp.scenario.judging import Answers, list_failed
from qcapp.scenario.schedule import Work


@dataclass(frozen=True)
class Shot:
    """drawing: the checklist's, by file name; part: its id there; fault, reading: in English, for
    the label ("" where there is none); on: ISO date.
    """

    drawing: str
    part: str
    stove: str
    fault: str
    reading: str
    on: str


def take_shots(work: Work, answers: Answers, is_taken: Callable[[], bool]) -> dict[str, Shot]:
    """By check, of the failed ones that were answered and that the inspector took a photo of."""
    return {
        check_id: _build_shot(work, check_id, answers)
        for check_id in list_failed(work, answers)
        if check_id in answers and is_taken()
    }


def _build_shot(work: Work, check_id: str, answers: Answers) -> Shot:
    check, answer = work.checklist.check_by_id[check_id], answers[check_id]
    titles = {fault.id: fault.title["en"] for fault in check.faults}
    unit = getattr(check, "unit", "")
    readings = ", ".join(answer.get("values", ()))
    return Shot(
        drawing=work.checklist.drawing,
        part=check.part,
        stove=work.stove,
        fault=titles.get(answer.get("fault", ""), ""),
        reading=f"{readings} {unit}".strip() if readings else "",
        on=work.shown_at.date().isoformat(),
    )
