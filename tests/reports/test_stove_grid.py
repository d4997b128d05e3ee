"""A batch's stoves one by one: in which state, which of them nobody inspected, with which mark."""

import re
from typing import NamedTuple

import pytest

from qcapp.reports.stove_grid import NOT_INSPECTED, STATES, find_state, lay_out_grid
from qcapp.reports.totals import OUTCOMES
from tests.builders import ROOT, open_yard
from tests.page_text import text_of


class Stove(NamedTuple):
    serial: str
    disposition: str = "release"
    inspections: int = 1
    decided_by: str | None = None


@pytest.mark.parametrize(
    ("stove", "state"),
    [
        (Stove("B1-1"), "released_at_once"),
        (Stove("B1-1", inspections=2), "released_later"),
        (Stove("B1-1", decided_by="LEAD"), "released_later"),
        (Stove("B1-1", "concession", 2), "concession"),
        (Stove("B1-1", "hold"), "hold"),
    ],
)
def test_state_of_a_stove(stove, state):
    assert find_state(stove) == state


def test_stoves_that_nobody_inspected_are_named_by_the_batchs_own_serials():
    seen = [Stove("B1-003"), Stove("b1 1", "scrap")]
    grid = lay_out_grid(seen, prefix="B1-", offered=4)
    assert [(cell.short, cell.state) for cell in grid.cells] == [
        ("1", "scrap"),
        ("2", NOT_INSPECTED),
        ("3", "released_at_once"),
        ("4", NOT_INSPECTED),
    ]
    assert grid.counts[NOT_INSPECTED] == 2 and grid.whole == 4


def test_where_serials_are_of_another_form_nobody_can_name_the_absent_ones():
    grid = lay_out_grid([Stove("X9"), Stove("B1-2")], prefix="B1-", offered=4)
    assert [cell.serial for cell in grid.cells] == ["B1-2", "", "", "X9"]
    assert grid.counts[NOT_INSPECTED] == 2
    more_than_planned = lay_out_grid([Stove("B1-1"), Stove("B1-2")], prefix="B1-", offered=1)
    assert more_than_planned.whole == 2


def test_only_one_state_is_shown_and_all_are_counted():
    grid = lay_out_grid([Stove("B1-1"), Stove("B1-2", "hold")], prefix="", offered=0, only="hold")
    assert [cell.serial for cell in grid.cells] == ["B1-2"] and grid.whole == 2


def test_grid_counts_what_the_figures_count():
    yard = open_yard()
    yard.push(
        yard.phone.inspect("B1-001"),
        yard.phone.inspect("B1-002", width="120", disposition="rework"),
        yard.phone.inspect("B1-003", width="120", disposition="rework"),
        yard.phone.inspect("B1-003", at="2026-11-24T12:00:00.000Z"),
        yard.phone.inspect("B1-004", dents="fail", disposition="concession"),
        yard.phone.inspect("B1-005", edge="fail", disposition="scrap"),
        yard.phone.inspect("B1-006", disposition="hold"),
    )
    (report,) = yard.client.get("/api/batches/B1").json()
    page = yard.client.get("/batches/B1").text
    shown = re.findall(r'<(?:a|span) class="stove-cell (\w+)" (?:href|title)', page)
    stoves = report["totals"]["stoves"]
    assert {state: shown.count(state) for state in STATES} == {
        state: stoves[state] for state in (*OUTCOMES, NOT_INSPECTED)
    }
    assert min(shown.count(state) for state in STATES) == 1
    held = yard.client.get("/batches/B1?only=hold")
    assert len(re.findall(r'<a class="stove-cell hold" href', held.text)) == 1
    assert "Only these are shown: Held" in text_of(held)
    assert 'href="/stoves/finished/B1-006"' in held.text


def test_marks_are_the_phones_and_no_two_states_share_one():
    """The symbol of each state has every outline of the phone's shape of that disposition."""
    phone = (ROOT / "static" / "phone" / "js" / "ui" / "disposition_mark.js").read_text("utf-8")
    pages = (ROOT / "qcapp" / "web" / "layout" / "stove_marks.html").read_text("utf-8")
    symbols = dict(re.findall(r'<symbol id="mark-(\w+)"[^>]*>(.*?)</symbol>', pages))
    assert set(symbols) == set(STATES)
    assert len(set(symbols.values())) == len(STATES)
    shapes = dict(
        re.findall(r"^  (\w+): (\[.*?\]),\n(?=  \w+:|};)", phone, re.MULTILINE | re.DOTALL)
    )
    assert {"release", "rework", "concession", "scrap", "hold"} <= set(shapes)
    for kind in ("release", "rework", "concession", "scrap", "hold"):
        outlines = re.findall(r'"(M[^"]+)"', shapes[kind])
        state = "released_at_once" if kind == "release" else kind
        assert outlines and re.findall(r' d="(M[^"]+)"', symbols[state]) == outlines
