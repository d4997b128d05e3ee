"""Every figure command against every fault of a file or a number given by hand: one line that says
what, where and what to do; exit 1; nothing read as another number; bounded memory and time.
"""

import inspect
import json
import os
import resource
import subprocess
import sys
import typing
from dataclasses import dataclass
from pathlib import Path

import pytest

from qcapp.cli import figures, measure
from qcapp.cli.csv_table import MAX_BYTES, MAX_ROWS
from qcapp.cli.figures import MAX_OF_ONE, MAX_PEOPLE, MAX_POINTS
from qcapp.cli.main import COMMANDS
from qcapp.cli.measure import MAX_INSPECTORS, MAX_VERDICTS
from qcapp.cli.numbers import MAX_COUNT
from tests.cli.test_cli import ROOT, run


@dataclass(frozen=True)
class Use:
    """words: of the command, FILE for the file; columns with one kind a letter: w word, c count, n
    number; rows: good ones.
    """

    words: str
    columns: str
    kinds: str
    rows: tuple[str, ...]


READINGS = tuple(str(97 + n % 5) for n in range(12))
COUNTS = ("3,50", "5,60", "2,40")
LOOKS = tuple(
    f"S{stove},I{who},{repeat},{97 + stove + who * 0.5 + repeat * 0.25}"
    for stove in range(3)
    for who in (1, 2)
    for repeat in (1, 2)
)
VERDICTS = tuple(f"S{n},I{who},{'pass' if n % 2 else 'fail'}" for n in range(4) for who in (1, 2))
USES = {
    "rank": Use("rank FILE", "name,faults,inspected", "wcc", ("Ano,3,50", "Beda,1,40")),
    "learn": Use("learn FILE", "made_before,failed", "cc", ("0,1", "1,0", "4,0", "9,0")),
    "chart p": Use("chart FILE --kind p", "faults,inspected", "cc", COUNTS),
    "chart laney": Use("chart FILE --kind p --laney", "faults,inspected", "cc", COUNTS),
    "chart individuals": Use("chart FILE --kind individuals", "value", "n", READINGS),
    "chart ewma": Use("chart FILE --kind ewma", "value", "n", READINGS),
    "chart cusum": Use("chart FILE --kind cusum", "value", "n", READINGS),
    "agree verdicts": Use("agree FILE", "stove,inspector,verdict", "www", VERDICTS),
    "agree repeats": Use(
        "agree FILE",
        "stove,inspector,repeat,verdict",
        "wwcw",
        tuple(row.replace(",p", ",1,p").replace(",f", ",1,f") for row in VERDICTS),
    ),
    "agree readings": Use("agree FILE", "stove,inspector,repeat,value", "wwcn", LOOKS),
    "capability": Use("capability FILE --lower 90 --upper 110", "value", "n", READINGS),
}
# {fault: cell}. Each stands for something that another reader takes for a number.
NO_NUMBERS = {
    "comma": '"1,5"',
    "nan": "nan",
    "infinity": "inf",
    "minus infinity": "-Infinity",
    "beyond a double": "1e999",
    "beyond squares": "1e200",
    "nearly nothing": "1e-300",
    "underscore": "1_0",
    "blank inside": "1 000",
    "hexadecimal": "0x10",
    "plus": "+5",
    "other script": "\u0663",
    "full width": "\uff15",
    "semicolon": "1;2",
    "unit": "97mm",
    "too long": "1.123456789012345678",
    "formula": "=1+1",
}
NO_COUNTS = {
    **NO_NUMBERS,
    "a thousand millions": "1000000000",
    "fraction": "1.5",
    "exponent": "1e3",
    "negative": "-1",
    "hundreds of digits": "9" * 400,
}


def given_by_hand():
    """The figure commands: {name: function}."""
    modules = {"figures": figures, "measure": measure}
    return {
        name: getattr(modules[entry.split(":")[0]], entry.split(":")[1])
        for name, entry in COMMANDS.items()
        if isinstance(entry, str) and entry.split(":")[0] in modules
    }


def numeric_options():
    """(command, option, its type) of every number that a figure command takes."""
    for name, function in given_by_hand().items():
        for option, hint in typing.get_type_hints(function).items():
            if hint in (int, float, float | None):
                yield name, option, hint


def list_faults(use):
    """(fault, text of the file, where the line must point)."""
    head, *rows = use.columns, *use.rows
    lines = [head, *rows]

    def with_row(row, at=2):
        return "\n".join([*lines[:at], row, *lines[at:]]) + "\n"

    cells = rows[0].split(",")
    for column, (name, kind) in enumerate(zip(head.split(","), use.kinds, strict=True)):

        def put(cell, column=column):
            return with_row(",".join([*cells[:column], cell, *cells[column + 1 :]]))

        # The whole of a row that is empty is a blank line, which every table may end with.
        yield f"empty {name}", put('""'), f":3 {name}"
        if kind == "w":
            continue
        yield f"decimal comma in {name}", put("1,5"), ":3)"
        for fault, cell in (NO_NUMBERS if kind == "n" else NO_COUNTS).items():
            yield f"{fault} in {name}", put(cell), f":3 {name}"
    yield "surplus cell", with_row(f"{rows[0]},7"), ":3)"
    yield "surplus empty cell", with_row(f"{rows[0]},"), ":3)"
    yield "cell under no name", f"{head},\n{rows[0]},\n{rows[1]},5\n", ":3)"
    yield "named column without its cell", f"{head},note\n{rows[0]},x\n{rows[1]}\n", ":3)"
    if len(cells) > 1:
        yield "missing cell", with_row(",".join(cells[:-1])), ":3)"
        yield "semicolons", "\n".join(lines).replace(",", ";"), ":1)"
        yield "tabs", "\n".join(lines).replace(",", "\t"), ":1)"
        yield "semicolons in one row", with_row(rows[0].replace(",", ";")), ":3)"
    yield "semicolons beside a note", f"note;{head.replace(',', ';')}\nx;1\n", ":1)"
    yield "column twice", f"{head},{head.split(',')[0]}\n{rows[0]},5\n", ":1)"
    yield "no names", "\n".join(rows), ":1)"
    yield "nothing", "", ":1)"
    yield "names only", f"{head}\n", "given.csv)"
    yield "open quote", with_row('"5'), "given.csv:"
    yield "huge cell", with_row("9" * 200_000), "given.csv:"


def start(use, file):
    return run(*(str(file) if word == "FILE" else word for word in use.words.split()))


def find_wrong(done, where):
    """What a refusal lacks."""
    said = done.stderr
    if done.returncode != 1 or done.stdout:
        yield f"exit {done.returncode}, {done.stdout[:200]!r}, {said[:200]!r}"
    elif not said.startswith("qcapp: ") or said.count("\n") != 1 or len(said) > 500:
        yield f"more than a line: {said[:500]!r}"
    elif where not in said or "): " not in said:
        yield f"not what is wrong at {where!r}: {said!r}"


def check_refusal(done, where):
    assert not list(find_wrong(done, where))


def test_every_command_that_reads_a_file_is_tried():
    reading = {
        name
        for name, function in given_by_hand().items()
        if Path in typing.get_type_hints(function).values()
    }
    assert {use.words.split()[0] for use in USES.values()} == reading
    kinds = {use.words.split()[3] for use in USES.values() if use.words.startswith("chart")}
    assert kinds == set(measure.KINDS)


@pytest.mark.parametrize("use", USES.values(), ids=USES)
def test_good_file_is_answered(use, tmp_path):
    file = tmp_path / "given.csv"
    # As a spreadsheet writes it: a mark at the start, line ends of two characters, a blank line.
    file.write_bytes("\r\n".join(["\ufeff" + use.columns, *use.rows, "", ""]).encode())
    done = start(use, file)
    assert done.returncode == 0 and json.loads(done.stdout), done.stderr


@pytest.mark.parametrize("use", USES.values(), ids=USES)
def test_fault_in_a_file_is_one_clear_line(use, tmp_path):
    file, wrong = tmp_path / "given.csv", []
    for fault, text, where in list_faults(use):
        file.write_text(text, encoding="utf-8")
        wrong += [f"{fault}: {why}" for why in find_wrong(start(use, file), where)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("use", USES.values(), ids=USES)
def test_what_is_no_text_is_one_clear_line(use, tmp_path):
    file, folder = tmp_path / "given.csv", tmp_path / "folder"
    for content in (use.columns.encode("utf-16"), b"\xff\xfe\x00", b"value\x00\n1\n"):
        file.write_bytes(content)
        check_refusal(start(use, file), "given.csv")
    folder.mkdir()
    check_refusal(start(use, folder), "folder")


@pytest.mark.parametrize(
    ("use", "row", "says"),
    [
        ("rank", "Caro,6,5", "6 failed of 5"),
        ("chart p", "6,5", "6 failed of 5"),
        ("chart laney", "0,0", "at least one inspected"),
        ("learn", "3,2", "neither 0 nor 1"),
    ],
)
def test_row_that_cannot_be_is_named(use, row, says, tmp_path):
    file = tmp_path / "given.csv"
    file.write_text("\n".join([USES[use].columns, USES[use].rows[0], row]) + "\n")
    done = start(USES[use], file)
    check_refusal(done, "given.csv:3")
    assert says in done.stderr


GOOD_OPTIONS = {
    "rate": {"faults": "3", "inspected": "20"},
    "plan": {"lot": "90", "aql": "2.5"},
    "sample": {"lot": "90", "n": "13", "seed": "s"},
    "curve": {"lot": "60", "n": "13", "ac": "0"},
    "bound": {"lot": "60", "n": "13", "found": "0"},
    "compare": {"a": "1/10", "b": "2/20"},
}


def start_with(name, option, text, tmp_path):
    words = [name]
    use = next((use for use in USES.values() if use.words.split()[0] == name), None)
    if use:
        use = USES["chart ewma"] if name == "chart" else use
        file = tmp_path / "given.csv"
        file.write_text("\n".join([use.columns, *use.rows]))
        words = [str(file) if word == "FILE" else word for word in use.words.split()]
    else:
        for other, value in GOOD_OPTIONS[name].items():
            words += [] if other == option else [f"--{other}", value]
    return run(*words, f"--{option}={text}")


NO_VALUES = ("9" * 18, "9" * 400, "1e999", "nan", "inf", "-inf", "1,5", "1_0", "", "x", "\u0663")
NO_WHOLE = ("1000000000", "-1", "1.5", "1e3")
NO_LEVELS = ("0", "0.3", "1", "0.99999999999999999", "95")


@pytest.mark.parametrize(("name", "option", "kind"), list(numeric_options()))
def test_number_that_is_none_is_one_clear_line(name, option, kind, tmp_path):
    more = NO_LEVELS if option == "level" else NO_WHOLE if kind is int else ()
    for text in (*NO_VALUES, *more):
        check_refusal(start_with(name, option, text, tmp_path), f"(--{option})")


@pytest.mark.parametrize(
    "text", ["1/1000000000", "1,5/20", "1/2/3", "/", "nan/3", "\u0663/20", "5/4"]
)
@pytest.mark.parametrize("option", ["a", "b"])
def test_counts_that_are_none_are_one_clear_line(option, text, tmp_path):
    done = start_with("compare", option, text, tmp_path)
    check_refusal(done, "failed" if text == "5/4" else f"(--{option})")


@pytest.mark.parametrize("aql", ["15", "1000", "10.5", "2,5", "2_5", "nan", "inf", "1e1", "-1", ""])
def test_limit_that_is_no_percentage_is_one_clear_line(aql, tmp_path):
    done = start_with("plan", "aql", aql, tmp_path)
    check_refusal(done, "(aql)")
    assert aql not in ("15", "1000", "10.5") or "faults per hundred" in done.stderr


# The largest that is let in, as a process of its own: bytes of memory, seconds.
MEMORY, SECONDS = 1_500_000_000, 60


def write_largest(name, use):
    if name == "rank":
        return (f"p{n},{n % 7},{MAX_OF_ONE - n}" for n in range(MAX_PEOPLE))
    if name == "learn":
        return (f"{n * 10 % MAX_COUNT},{n % 2}" for n in range(MAX_ROWS))
    if name.startswith("chart") and use.kinds == "cc":
        return (f"{n % 2},{MAX_COUNT - n}" for n in range(MAX_ROWS))
    if use.columns == "value":
        return (f"{(n * 7919) % 10007}e{n % 11}" for n in range(MAX_ROWS))
    if name == "agree readings":
        return (
            f"s{n},i{who},{repeat},{(n * 31 + who * 7 + repeat) % 101}"
            for n in range(MAX_ROWS // MAX_INSPECTORS // 2)
            for who in range(MAX_INSPECTORS)
            for repeat in (1, 2)
        )
    extra = "1," if use.kinds == "wwcw" else ""
    return (
        f"s{n},i{(n + who) % MAX_INSPECTORS},{extra}v{(n * who) % MAX_VERDICTS}"
        for n in range(MAX_ROWS // 4)
        for who in range(4)
    )


def run_bounded(words):
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.run(
        [sys.executable, "-m", "qcapp", *words],
        env=environment,
        check=False,
        capture_output=True,
        text=True,
        timeout=SECONDS,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY)),
    )


@pytest.mark.slow
# Laney's limits come from the same points as those of the plain chart.
@pytest.mark.parametrize("name", [name for name in USES if name != "chart laney"])
def test_largest_file_is_answered_in_bounds(name, tmp_path):
    use, file = USES[name], tmp_path / "given.csv"
    file.write_text("\n".join([use.columns, *write_largest(name, use)]) + "\n")
    done = run_bounded(str(file) if word == "FILE" else word for word in use.words.split())
    assert done.returncode == 0, done.stderr[-500:]
    assert json.loads(done.stdout)


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [
        f"rate --faults 1 --inspected {MAX_COUNT}",
        f"compare --a {MAX_COUNT // 2}/{MAX_COUNT} --b {MAX_COUNT // 2}/{MAX_COUNT}",
        f"plan --lot {MAX_COUNT} --aql 10",
        f"sample --lot {MAX_COUNT} --n {MAX_COUNT} --seed s",
        f"curve --lot {MAX_POINTS} --n {MAX_POINTS // 2} --ac {MAX_POINTS // 4}",
        f"bound --lot {MAX_COUNT} --n {MAX_COUNT // 2} --found {MAX_COUNT // 4}",
    ],
)
def test_largest_numbers_are_answered_in_bounds(words):
    done = run_bounded(words.split())
    assert done.returncode == 0 and json.loads(done.stdout), done.stderr[-500:]


def test_every_command_with_numbers_is_tried_at_its_largest():
    assert {name for name, _, kind in numeric_options() if kind is int} <= set(GOOD_OPTIONS)
    assert set(given_by_hand()) == {*GOOD_OPTIONS, *(use.words.split()[0] for use in USES.values())}


@pytest.mark.parametrize("use", USES.values(), ids=USES)
def test_file_beyond_the_bounds_is_one_clear_line(use, tmp_path):
    file = tmp_path / "given.csv"
    file.write_text(f"{use.columns}\n" + f"{use.rows[0]}\n" * (MAX_ROWS + 1))
    check_refusal(start(use, file), "given.csv)")
    with file.open("wb") as stream:
        stream.truncate(MAX_BYTES + 1)
    check_refusal(start(use, file), "given.csv)")


def test_every_option_says_what_it_is():
    for function in given_by_hand().values():
        for parameter in inspect.signature(function).parameters.values():
            assert parameter.annotation.__metadata__[0].help
