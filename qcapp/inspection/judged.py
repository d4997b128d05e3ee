"""One judging of each inspection: whoever receives it, folds it and counts it asks here."""

from collections.abc import Mapping
from typing import Any

from qcapp.checklist.model import Checklist
from qcapp.inspection.judge import Judgement, judge_answers

Body = Mapping[str, Any]


class JudgedInspections:
    """Lives as long as what it judges is worked on: a push, a piece of a rebuild.

    What was judged is known by the object itself, which is kept for that, and never changed.
    """

    def __init__(self) -> None:
        self._known: dict[tuple[int, str], tuple[Body, dict[str, Judgement]]] = {}

    def judge(self, body: Body, checklist: Checklist) -> dict[str, Judgement]:
        """{check id: Judgement} of an inspection's body."""
        key = (id(body), checklist.hash)
        if key not in self._known:
            context = {"size": body["size"], "batch": body["batch_attributes"]}
            self._known[key] = (body, judge_answers(checklist, body["answers"], context))
        return self._known[key][1]
