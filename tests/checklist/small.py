"""A small checklist file that has every kind of check, to be broken in one place by each test."""

from pathlib import Path

from qcapp.checklist.load import find_errors
from qcapp.checklist.source import ChecklistError

SVG = '<svg xmlns="http://www.w3.org/2000/svg"><g id="door"/><g id="grate"/></svg>'

YAML = """\
id: small
revision: 1
title: {en: Small}
stage: finished
drawing: small.svg
sizes: [medium, large]
parts:
  - {id: door, title: {en: Door}}
  - {id: grate, title: {en: Grate}}
steps:
  - {id: cut-door, trade: metalwork, title: {en: Cut}}
  - {id: pierce, trade: clay, title: {en: Pierce}}
checks:
  - id: swing
    part: door
    step: cut-door
    severity: critical
    ask: {en: Swings}
    how: {en: By hand.}
    caution: {en: Cold only.}
    when: {batch.painted: true}
    tick: {}
    faults: [{id: binds, title: {en: Binds}}]
    basis: common practice, no source
  - id: width
    part: door
    step: cut-door
    severity: major
    ask: {en: Width}
    how: {en: Rule.}
    measure:
      unit: mm
      resolution: 1
      uncertainty: 0.8
      decision: simple
      possible: {lower: 10, upper: 400}
      limits: {medium: {lower: 97, nominal: 100, upper: 103}, large: {lower: 117, upper: 123}}
    faults:
      - {id: wide, title: {en: Wide}, side: above}
      - {id: narrow, title: {en: Narrow}, side: below}
    basis: drawing
  - id: holes
    part: grate
    step: pierce
    severity: major
    ask: {en: Holes}
    how: {en: Count.}
    count:
      unit: holes
      possible: {lower: 0, upper: 99}
      limits: {all: {lower: 19, nominal: 19, upper: 19}}
      rows: {medium: [3, 4, 5, 4, 3]}
    faults: [{id: missing, title: {en: Missing}}]
    basis: drawing
  - id: margin
    part: grate
    step: pierce
    severity: major
    ask: {en: Margin}
    how: {en: Rule.}
    readings:
      n: 2
      by: smallest
      labels: [{en: Front}, {en: Back}]
      unit: mm
      resolution: 1
      uncertainty: 0.5
      decision: guarded
      possible: {lower: 0, upper: 60}
      limits: {all: {lower: 10}}
    faults: [{id: near, title: {en: Near}}]
    basis: drawing
  - id: crack
    part: grate
    step: pierce
    severity: major
    ask: {en: Cracks}
    how: {en: Look.}
    choice:
      options:
        - {id: none, title: {en: None}, verdict: pass}
        - {id: open, title: {en: Open}, verdict: fail, fault: cracked}
    faults: [{id: cracked, title: {en: Cracked}}]
    basis: drawing
  - id: double
    part: door
    step: cut-door
    severity: minor
    ask: {en: Double}
    how: {en: Worked out.}
    calculated:
      expression: "2 * width"
      inputs: {width: width}
      unit: mm
      resolution: 1
      uncertainty: 0
      decision: simple
      possible: {lower: 0, upper: 900}
      limits: {all: {upper: 400}}
    faults: [{id: too-much, title: {en: Too much}}]
    basis: drawing
"""


def write_small(folder: Path, *changes: tuple[str, str]) -> Path:
    """The small checklist with each (old, new) replaced once;
    an old text that is not there fails the test.
    """
    text = YAML
    for old, new in changes:
        assert old in text, f"not in the small checklist: {old}"
        text = text.replace(old, new, 1)
    (folder / "small.svg").write_text(SVG, encoding="utf-8")
    path = folder / "small.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def find_small_errors(folder: Path, *changes: tuple[str, str]) -> list[ChecklistError]:
    return find_errors(write_small(folder, *changes))


def line_of(text: str) -> int:
    """The line of the small checklist that holds the text for the first time."""
    return YAML[: YAML.index(text)].count("\n") + 1
