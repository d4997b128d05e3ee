"""Each mistake in a checklist file is refused with file, line and key."""

from pathlib import Path

import pytest

from qcapp.checklist.load import load_checklist
from qcapp.checklist.source import ChecklistErrors
from tests.checklist.small import find_small_errors, line_of, write_small

WIDTH, HOLES, MARGIN, DOUBLE = (
    "checks.width.measure",
    "checks.holes.count",
    "checks.margin.readings",
    "checks.double.calculated",
)
MEDIUM = "medium: {lower: 97, nominal: 100, upper: 103}"

# what is wrong: (old text, new text, text on the line told, key told, word in the message)
REFUSALS = {
    "unknown key on top": (
        "stage: finished",
        "stage: finished\nstages: x",
        None,
        "stages",
        "did you mean 'stage'?",
    ),
    "unknown key in a check": (
        "    caution: {en: Cold",
        "    cautoin: {en: Cold",
        "caution:",
        "checks.swing.cautoin",
        "did you mean 'caution'?",
    ),
    "may not apply is a word": (
        "    caution: {en: Cold",
        "    may_not_apply: yes\n    caution: {en: Cold",
        "caution:",
        "checks.swing.may_not_apply",
        "true or false",
    ),
    "a tool nobody knows": (
        "    caution: {en: Cold",
        "    tool: rag\n    caution: {en: Cold",
        "caution:",
        "checks.swing.tool",
        "rag",
    ),
    "after a check nobody knows": (
        "    caution: {en: Cold",
        "    after: [widht]\n    caution: {en: Cold",
        "caution:",
        "checks.swing.after.1",
        "did you mean 'width'?",
    ),
    "after what comes later": (
        "    caution: {en: Cold",
        "    after: [holes]\n    caution: {en: Cold",
        "- id: swing",
        "checks.swing.after",
        "comes later",
    ),
    "a reading lasts": (
        "    measure:",
        "    lasts_seconds: 60\n    measure:",
        "measure:",
        "checks.width.lasts_seconds",
        "only a tick",
    ),
    "a tick lasts too long": (
        "    caution: {en: Cold",
        "    lasts_seconds: 4000\n    caution: {en: Cold",
        "caution:",
        "checks.swing.lasts_seconds",
        "3600",
    ),
    "a gauge for a mean": (
        "      by: smallest",
        "      gauge: true\n      by: mean",
        "by: smallest",
        f"{MARGIN}.gauge",
        "smallest or the largest",
    ),
    "a critical check may not apply": (
        "    caution: {en: Cold",
        "    may_not_apply: true\n    caution: {en: Cold",
        "caution:",
        "checks.swing.may_not_apply",
        "always applies",
    ),
    "unknown key in limits": (
        "nominal: 100",
        "nominall: 100",
        MEDIUM,
        f"{WIDTH}.limits.medium.nominall",
        "did you mean 'nominal'?",
    ),
    "unknown key in a tick": (
        "tick: {}",
        "tick: {a: 1}",
        "tick:",
        "checks.swing.tick.a",
        "unknown key",
    ),
    "key there twice": ("stage: finished", "stage: finished\nstage: again", None, "stage", "twice"),
    "double check id": ("- id: holes", "- id: width", "- id: holes", "checks.width.id", "twice"),
    "double part id": (
        "- {id: grate, title",
        "- {id: door, title",
        "- {id: grate",
        "parts.door.id",
        "twice",
    ),
    "double step id": (
        "- {id: pierce,",
        "- {id: cut-door,",
        "- {id: pierce",
        "steps.cut-door.id",
        "twice",
    ),
    "double fault id": (
        "{id: narrow,",
        "{id: wide,",
        "{id: narrow",
        "checks.width.faults.wide.id",
        "twice",
    ),
    "double option id": (
        "- {id: open,",
        "- {id: none,",
        "- {id: open,",
        "checks.crack.choice.options.none",
        "twice",
    ),
    "double size": ("[medium, large]", "[medium, large, medium]", "sizes:", "sizes", "twice"),
    "lower above upper": (
        "{lower: 97, nominal: 100,",
        "{lower: 107,",
        MEDIUM,
        f"{WIDTH}.limits.medium",
        "above upper",
    ),
    "nominal outside": (
        "nominal: 100",
        "nominal: 104",
        MEDIUM,
        f"{WIDTH}.limits.medium.nominal",
        "outside the limits",
    ),
    "guard wider than limits": (
        "uncertainty: 0.8",
        "uncertainty: 3.1",
        MEDIUM,
        f"{WIDTH}.limits.medium",
        "wider than the limits",
    ),
    "limit outside the possible range": (
        "upper: 103}",
        "upper: 403}",
        MEDIUM,
        f"{WIDTH}.limits.medium.upper",
        "outside the possible range",
    ),
    "possible upside down": (
        "lower: 10, upper: 400",
        "lower: 400, upper: 10",
        "possible: {lower: 10,",
        f"{WIDTH}.possible",
        "not below upper",
    ),
    "no limit at all": (
        "{all: {lower: 10}}",
        "{all: {nominal: 12}}",
        "{all: {lower: 10}}",
        f"{MARGIN}.limits.all",
        "no limit at all",
    ),
    "no limits for a size": (
        ", large: {lower: 117, upper: 123}",
        "",
        MEDIUM,
        f"{WIDTH}.limits.large",
        "no entry for size 'large'",
    ),
    "limits for an unknown size": (
        "large: {lower: 117",
        "larg: {lower: 117",
        MEDIUM,
        f"{WIDTH}.limits.larg",
        "did you mean 'large'?",
    ),
    "a size beside all": (
        "{all: {lower: 10}}",
        "{all: {lower: 10}, large: {lower: 9}}",
        "{all: {lower: 10}}",
        f"{MARGIN}.limits.large",
        "together with all",
    ),
    "negative uncertainty": (
        "uncertainty: 0.8",
        "uncertainty: -1",
        "uncertainty: 0.8",
        f"{WIDTH}.uncertainty",
        "not be below 0",
    ),
    "resolution of nothing": (
        "resolution: 1",
        "resolution: 0",
        "resolution: 1",
        f"{WIDTH}.resolution",
        "above 0",
    ),
    "unknown decision": (
        "decision: simple",
        "decision: simpel",
        "decision: simple",
        f"{WIDTH}.decision",
        "did you mean 'simple'?",
    ),
    "unknown step": (
        "step: pierce",
        "step: peirce",
        "step: pierce",
        "checks.holes.step",
        "did you mean 'pierce'?",
    ),
    "unknown part": (
        "part: grate",
        "part: grat",
        "part: grate",
        "checks.holes.part",
        "did you mean 'grate'?",
    ),
    "unknown severity": (
        "severity: critical",
        "severity: bad",
        "severity: critical",
        "checks.swing.severity",
        "critical, major, minor",
    ),
    "part not in the drawing": (
        "{id: door, title",
        "{id: dor, title",
        "{id: door, title",
        "parts.dor",
        "did you mean 'door'?",
    ),
    "drawing not there": ("small.svg", "other.svg", "drawing:", "drawing", "cannot be read"),
    "drawing elsewhere": ("small.svg", "../small.svg", "drawing:", "drawing", "same folder"),
    "rows that do not add up": (
        "[3, 4, 5, 4, 3]",
        "[4, 5, 6]",
        "rows:",
        f"{HOLES}.rows.medium",
        "add up to 15, the count is 19",
    ),
    "rows of no number": (
        "[3, 4, 5, 4, 3]",
        "[3, four]",
        "rows:",
        f"{HOLES}.rows.medium",
        "whole numbers",
    ),
    "rows without an exact count": (
        "{lower: 19, nominal: 19,",
        "{lower: 18, nominal: 19,",
        "rows:",
        f"{HOLES}.rows.medium",
        "no exact limit",
    ),
    "broken limit of a count": (
        "{lower: 19,",
        "{lower: 18.5,",
        "limits: {all: {lower: 19",
        f"{HOLES}.limits.all.lower",
        "whole limits",
    ),
    "missing basis": (
        "\n    basis: common practice, no source",
        "",
        "- id: swing",
        "checks.swing.basis",
        "missing",
    ),
    "empty basis": (
        "basis: common practice, no source",
        "basis:",
        "basis: common",
        "checks.swing.basis",
        "empty",
    ),
    "no faults": (
        "faults: [{id: binds, title: {en: Binds}}]",
        "faults: []",
        "faults:",
        "checks.swing.faults",
        "empty",
    ),
    "side of a tick's fault": (
        "{en: Binds}}",
        "{en: Binds}, side: above}",
        "faults:",
        "checks.swing.faults.binds.side",
        "for numbers only",
    ),
    "missing English": (
        "ask: {en: Swings}",
        "ask: {fr: Tourne}",
        "ask: {en: Swings}",
        "checks.swing.ask.en",
        "English text is missing",
    ),
    "no language": (
        "ask: {en: Swings}",
        "ask: Swings",
        "ask: {en: Swings}",
        "checks.swing.ask",
        "by language",
    ),
    "strange language": (
        "{en: Swings}",
        "{en: Swings, English: x}",
        "ask: {en: Swings}",
        "checks.swing.ask.English",
        "not a language code",
    ),
    "unknown input": (
        "{width: width}",
        "{width: widht}",
        "inputs:",
        f"{DOUBLE}.inputs.width",
        "did you mean 'width'?",
    ),
    "input that gives no number": (
        "{width: width}",
        "{width: swing}",
        "inputs:",
        f"{DOUBLE}.inputs.width",
        "gives no number (tick)",
    ),
    "input that needs itself": (
        "{width: width}",
        "{width: double}",
        "- id: double",
        f"{DOUBLE}.inputs",
        "needs itself",
    ),
    "input never used": (
        "{width: width}",
        "{width: width, n: holes}",
        "inputs:",
        f"{DOUBLE}.inputs.n",
        "not used",
    ),
    "input named as a function": (
        "{width: width}",
        "{width: width, min: holes}",
        "inputs:",
        f"{DOUBLE}.inputs.min",
        "not a valid name of an input",
    ),
    "broken expression": (
        '"2 * width"',
        '"2 * height"',
        "expression:",
        f"{DOUBLE}.expression",
        "'height' is not among the inputs at column 5",
    ),
    "choice without a pass": (
        "verdict: pass",
        "verdict: fail",
        "options:",
        "checks.crack.choice.options",
        "no option with verdict pass",
    ),
    "choice without a fail": (
        "verdict: fail, fault: cracked",
        "verdict: pass",
        "options:",
        "checks.crack.choice.options",
        "no option with verdict fail",
    ),
    "option with an unknown fault": (
        "fault: cracked",
        "fault: craked",
        "- {id: open",
        "checks.crack.choice.options.open.fault",
        "did you mean 'cracked'?",
    ),
    "one reading only": ("n: 2", "n: 1", "n: 2", f"{MARGIN}.n", "2 or more"),
    "too many readings": ("n: 2", "n: 13", "n: 2", f"{MARGIN}.n", "more than 12"),
    "labels that do not fit": (
        "n: 2",
        "n: 3",
        "labels:",
        f"{MARGIN}.labels",
        "2 labels for 3 readings",
    ),
    "unknown statistic": (
        "by: smallest",
        "by: small",
        "by: smallest",
        f"{MARGIN}.by",
        "did you mean 'smallest'?",
    ),
    "revision below 1": ("revision: 1", "revision: 0", "revision:", "revision", "1 or more"),
    "revision in quotes": ("revision: 1", 'revision: "1"', "revision:", "revision", "plain number"),
    "id not in kebab case": (
        "- id: swing",
        "- id: Door_Swing",
        "- id: swing",
        "checks.Door_Swing.id",
        "small letters with hyphens",
    ),
    "no kind": ("    tick: {}\n", "", "- id: swing", "checks.swing", "has no kind"),
    "two kinds": (
        "tick: {}",
        "tick: {}\n    choice: {}",
        "- id: swing",
        "checks.swing",
        "has 2 kinds: tick, choice",
    ),
    "condition on an unknown thing": (
        "batch.painted: true",
        "painted: true",
        "when:",
        "checks.swing.when.painted",
        "not a valid condition",
    ),
    "condition on an unknown size": (
        "batch.painted: true",
        "size: huge",
        "when:",
        "checks.swing.when.size",
        "not known",
    ),
    "number read as a clock by YAML": (
        "lower: 97",
        "lower: 1:30",
        MEDIUM,
        f"{WIDTH}.limits.medium.lower",
        "plain number",
    ),
    "number read as octal by YAML": (
        "lower: 97",
        "lower: 012",
        MEDIUM,
        f"{WIDTH}.limits.medium.lower",
        "plain number",
    ),
    "number with an exponent": (
        "lower: 97",
        "lower: 1e2",
        MEDIUM,
        f"{WIDTH}.limits.medium.lower",
        "plain number",
    ),
    "number where text belongs": (
        "basis: common practice, no source",
        "basis: 12",
        "basis: common",
        "checks.swing.basis",
        "text is expected",
    ),
    "an alias": (
        "title: {en: Small}",
        "title: &a {en: Small}",
        "title: {en: Small}",
        "file",
        "anchors",
    ),
    "a tag": ("title: {en: Small}", "title: {en: !!str 5}", "title: {en: Small}", "file", "tags"),
}


@pytest.mark.parametrize("name", REFUSALS)
def test_mistake_is_told_with_file_line_and_key(name: str, tmp_path: Path) -> None:
    old, new, line_text, key, word = REFUSALS[name]
    errors = find_small_errors(tmp_path, (old, new))
    told = [error for error in errors if error.key == key and word in f"{error.what}; {error.todo}"]
    assert told, [str(error) for error in errors]
    assert told[0].file == "small.yaml"
    line = line_of(line_text) if line_text else line_of("stage: finished") + 1
    assert told[0].line == line
    assert str(told[0]).startswith(f"small.yaml:{line}: {key}: ")


def test_small_checklist_itself_has_no_error(tmp_path: Path) -> None:
    assert find_small_errors(tmp_path) == []


def test_step_nobody_uses_is_told(tmp_path: Path) -> None:
    errors = find_small_errors(
        tmp_path,
        ("  - {id: pierce,", "  - {id: idle, trade: clay, title: {en: Idle}}\n  - {id: pierce,"),
    )
    assert [(error.key, error.line) for error in errors] == [("steps.idle", line_of("{id: pierce"))]
    assert "no check uses step 'idle'" in errors[0].what


def test_part_without_a_check_is_told(tmp_path: Path) -> None:
    path = write_small(
        tmp_path, ("  - {id: grate,", "  - {id: rim, title: {en: Rim}}\n  - {id: grate,")
    )
    path.with_suffix(".svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><g id="door"/><g id="grate"/><g id="rim"/></svg>',
        encoding="utf-8",
    )
    with pytest.raises(ChecklistErrors) as raised:
        load_checklist(path)
    assert [error.key for error in raised.value.errors] == ["parts.rim"]


def test_circle_through_two_calculated_checks_is_told_at_both(tmp_path: Path) -> None:
    path = write_small(tmp_path, ("inputs: {width: width}", "inputs: {width: again}"))
    text = path.read_text(encoding="utf-8")
    second = (
        text[text.index("  - id: double") :]
        .replace("id: double", "id: again")
        .replace("width: again", "width: double")
    )
    path.write_text(text + second, encoding="utf-8")
    with pytest.raises(ChecklistErrors) as raised:
        load_checklist(path)
    assert [error.key for error in raised.value.errors] == [
        "checks.double.calculated.inputs",
        "checks.again.calculated.inputs",
    ]


def test_every_error_is_told_in_line_order(tmp_path: Path) -> None:
    errors = find_small_errors(
        tmp_path, ("revision: 1", "revision: 0"), ("part: grate", "part: grat"), ("n: 2", "n: 1")
    )
    assert [error.line for error in errors] == sorted(error.line for error in errors)
    assert {"revision", "checks.holes.part", f"{MARGIN}.n"} <= {error.key for error in errors}


def test_one_entry_for_all_sizes_is_told_once(tmp_path: Path) -> None:
    errors = find_small_errors(tmp_path, ("{all: {lower: 10}}", "{all: {lower: 99}}"))
    assert [error.key for error in errors] == [f"{MARGIN}.limits.all.lower"]


def test_error_as_one_line_names_the_first_place_and_how_many_more(tmp_path: Path) -> None:
    with pytest.raises(
        ChecklistErrors, match=r"and 1 more\) \(small\.yaml:2 revision\): write 1 or more"
    ) as raised:
        load_checklist(
            write_small(tmp_path, ("revision: 1", "revision: 0"), ("part: grate", "part: grat"))
        )
    assert len(raised.value.errors) == 2


@pytest.mark.parametrize(
    ("content", "line", "word"),
    [
        (b"id: a\n  b: [\n", 2, "not YAML"),
        (b"- a\n- b\n", 1, "not a list of keys"),
        (b"", 1, "not a list of keys"),
        (b"\xff\xfe\x00", 1, "cannot be read"),
        (b"id: a\x00b\n", 1, "not YAML"),
        (b"a: " + b"[" * 5000, 1, "nested too deep"),
        (b"a: b\n" * 200_000, 1, "larger than"),
        (b"a: b\n---\na: c\n", 2, "not YAML"),
        (b"? [a, b]\n: c\n", 1, "a key is not a plain word"),
    ],
)
def test_file_that_is_no_checklist_is_told(
    content: bytes, line: int, word: str, tmp_path: Path
) -> None:
    path = tmp_path / "broken.yaml"
    path.write_bytes(content)
    with pytest.raises(ChecklistErrors) as raised:
        load_checklist(path)
    first = raised.value.errors[0]
    assert (first.file, first.line) == ("broken.yaml", line)
    assert word in first.what


def test_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(ChecklistErrors, match="cannot be read"):
        load_checklist(tmp_path / "none.yaml")
