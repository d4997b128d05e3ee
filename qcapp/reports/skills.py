"""The skill sheet: how far each artisan is with each step, the evidence beside it, whom to pair."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from qcapp.checklist.items import Step
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.groups import GroupRate, People, build_rate, sum_tallies

LEVELS = {
    "learning": phrase("learning"),
    "works_alone": phrase("works alone"),
    "teaches": phrase("teaches"),
}
NOTHING = build_rate(0, 0)


@dataclass(frozen=True)
class Skill:
    """What the trainer set last. level: a key of LEVELS; set_on: ISO date; by: who set it."""

    level: str
    set_on: str
    by: str


@dataclass(frozen=True)
class SkillCell:
    """One artisan at one step. counts: own first passes by checklist, one never added to another;
    empty where none was inspected.
    """

    artisan: str
    skill: Skill | None
    counts: tuple[tuple[str, GroupRate], ...]


@dataclass(frozen=True)
class SkillRow:
    """teachers, learners: names of who teaches the step, and of who is learning it."""

    step: str
    title: str
    cells: tuple[SkillCell, ...]
    teachers: tuple[str, ...]
    learners: tuple[str, ...]

    @property
    def is_pair(self) -> bool:
        return bool(self.teachers and self.learners)


@dataclass(frozen=True)
class SkillBlock:
    """The steps of one trade. people: (code, name) by code, of whoever has the trade or did a step
    of it.
    """

    trade: str
    people: tuple[tuple[str, str], ...]
    rows: tuple[SkillRow, ...]


def build_skill_blocks(
    works: Mapping[str, Sequence[Step]],
    tallies: Iterable[StepTally],
    skills: Mapping[tuple[str, str], Skill],
    people: People,
) -> list[SkillBlock]:
    """A block a trade, in the checklists' order.

    works: steps by id; skills: by (artisan, step id). Whoever has left is on no sheet.
    """
    own: dict[tuple[str, str], dict[str, list[StepTally]]] = {}
    for one in tallies:
        code = one.artisan
        if code is not None and code in people and not people[code]["has_left"]:
            by_checklist = own.setdefault((code, one.step.step), {})
            by_checklist.setdefault(one.step.checklist, []).append(one)
    trades: dict[str, list[tuple[str, str]]] = {}
    for step_id, known in works.items():
        trades.setdefault(known[0].trade, []).append((step_id, text_of(known[0].title)))
    counts = {
        key: tuple((name, sum_tallies(found)) for name, found in sorted(by_checklist.items()))
        for key, by_checklist in own.items()
    }
    blocks = (_build_block(trade, steps, counts, skills, people) for trade, steps in trades.items())
    return [block for block in blocks if block.people]


def _build_block(
    trade: str,
    steps: Sequence[tuple[str, str]],
    counts: Mapping[tuple[str, str], tuple[tuple[str, GroupRate], ...]],
    skills: Mapping[tuple[str, str], Skill],
    people: People,
) -> SkillBlock:
    ids = {step for step, _title in steps}
    did = {artisan for artisan, step in (*counts, *skills) if step in ids}
    codes = sorted(
        code
        for code, person in people.items()
        if not person["has_left"] and (trade in person["trades"] or code in did)
    )
    rows = []
    for step, title in steps:
        cells = tuple(
            SkillCell(code, skills.get((code, step)), counts.get((code, step), ()))
            for code in codes
        )
        rows.append(
            SkillRow(
                step,
                title,
                cells,
                _list_names(cells, "teaches", people),
                _list_names(cells, "learning", people),
            )
        )
    return SkillBlock(trade, tuple((code, people[code]["name"]) for code in codes), tuple(rows))


def _list_names(cells: Iterable[SkillCell], level: str, people: People) -> tuple[str, ...]:
    return tuple(
        people[cell.artisan]["name"] for cell in cells if cell.skill and cell.skill.level == level
    )
