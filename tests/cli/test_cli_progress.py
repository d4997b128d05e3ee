"""How far a long command is: few lines where nobody watches, a bar with time left on a terminal."""

import io

import pytest
from rich.console import Console

from qcapp.cli.progress import Progress, explain_interrupt


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def run(is_terminal: bool, steps) -> str:
    """What is written; steps: (seconds, what, done, total)."""
    screen, clock = io.StringIO(), Clock()
    console = Console(file=screen, force_terminal=is_terminal, width=80)
    progress = Progress(console, clock)
    for clock.now, what, done, total in steps:
        progress(what, done, total)
    return screen.getvalue()


def list_lines(said: str) -> list[str]:
    """The lines, with one blank between their words."""
    return [" ".join(line.split()) for line in said.splitlines() if line.strip()]


def test_off_a_terminal_a_line_every_few_seconds_and_the_last_one():
    said = run(False, [(second, "stoves", 100 * second, 1000) for second in range(11)])
    assert list_lines(said) == [
        "stoves: 500 of 1,000 00:05 left",
        "stoves: 1,000 of 1,000 00:00 left",
    ]


def test_a_short_command_says_one_line():
    assert list_lines(run(False, [(0, "stoves", 5, 5)])) == ["stoves: 5 of 5 00:00 left"]


def test_on_a_terminal_a_bar_grows_in_one_line_with_time_left():
    steps = [(0, "stoves", 0, 7200), (10, "stoves", 20, 7200), (3600, "stoves", 7200, 7200)]
    said = run(True, steps)
    assert "stoves:" in said and "7,200 of 7,200" in said and "left" in said
    # Drawn over itself, and no line more than the last one stays.
    assert said.count("\n") == 1
    # The cursor is hidden while it is drawn, and there again after.
    assert said.count("\x1b[?25l") == said.count("\x1b[?25h") == 1


def test_another_kind_of_work_begins_another_bar():
    said = run(False, [(0, "stoves", 0, 5), (1, "stoves", 5, 5), (2, "photos", 9, 9)])
    assert [line.split(":")[0] for line in list_lines(said)] == ["stoves", "photos"]


def test_what_an_earlier_run_did_says_nothing_of_this_ones_speed():
    steps = [(second, "records", 9000 + 10 * second, 10000) for second in range(11)]
    assert list_lines(run(False, steps))[-1] == "records: 9,100 of 10,000 01:30 left"


def test_an_interrupted_command_says_what_is_kept_and_how_to_go_on(capsys):
    with pytest.raises(KeyboardInterrupt), explain_interrupt("all is kept; go on"):
        raise KeyboardInterrupt
    assert capsys.readouterr().err == "\nqcapp: interrupted; all is kept; go on\n"
