"""The skill sheet: what was set stands beside the evidence, and teachers meet learners."""

from qcapp.checklist.history import StepRef
from qcapp.checklist.items import Step
from qcapp.inspection.report_counts import StepTally
from qcapp.reports.skills import Skill, build_skill_blocks

WORKS = {
    step: [Step(id=step, trade=trade, title={"en": step.title()})]
    for step, trade in (("cut", "metalwork"), ("rivet", "metalwork"), ("form", "clay"))
}
PEOPLE = {
    code: {"code": code, "name": f"Name {code}", "trades": trades, "has_left": has_left}
    for code, trades, has_left in (
        ("A03", ["metalwork"], False),
        ("A01", ["metalwork"], False),
        ("A02", [], False),
        ("A04", ["metalwork"], True),
    )
}


def count(code, step, checklist, failed, inspected=10):
    return StepTally(StepRef(checklist, step), code, "B1", "2026-11-01", inspected, failed)


def build(skills=()):
    tallies = [
        count("A01", "cut", "finished", 2),
        count("A01", "cut", "finished", 1),
        count("A01", "cut", "cladding", 5),
        count("A02", "cut", "finished", 0),
        count("A04", "cut", "finished", 9),
        count(None, "cut", "finished", 9),
    ]
    set_ = {key: Skill(level, "2026-11-09", "T01") for key, level in skills}
    return build_skill_blocks(WORKS, tallies, set_, PEOPLE)


def test_people_stand_by_code_and_who_left_or_never_did_it_is_missing():
    (block,) = build()
    assert block.trade == "metalwork"
    assert [code for code, _name in block.people] == ["A01", "A02", "A03"]


def test_counts_of_two_checklists_are_never_added():
    row = build()[0].rows[0]
    counts = {name: (rate.failed, rate.inspected) for name, rate in row.cells[0].counts}
    assert counts == {"cladding": (5, 10), "finished": (3, 20)}
    assert row.cells[2].counts == ()


def test_who_teaches_meets_who_is_learning():
    row = build([(("A03", "cut"), "teaches"), (("A01", "cut"), "learning")])[0].rows[0]
    assert row.is_pair and (row.teachers, row.learners) == (("Name A03",), ("Name A01",))
    assert row.cells[0].skill == Skill("learning", "2026-11-09", "T01")
    alone = build([(("A03", "cut"), "teaches"), (("A01", "cut"), "works_alone")])[0].rows[0]
    assert not alone.is_pair
