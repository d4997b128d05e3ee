"""How far a long command is: few lines where nobody watches,
a bar with rate and time left on a terminal.
"""

import io

import pytest

from qcapp.cli_progress import Progress, told_if_interrupted


class Screen(io.StringIO):
    def __init__(self, is_terminal: bool) -> None:
        super().__init__()
        self._is_terminal = is_terminal

    def isatty(self) -> bool:
        return self._is_terminal


def run(is_terminal: bool, steps) -> str:
    """steps: (seconds, what, done, total)."""
    screen, now = Screen(is_terminal), iter([second for second, *_rest in steps])
    progress = Progress(screen, lambda: next(now))
    for _second, what, done, total in steps:
        progress(what, done, total)
    return screen.getvalue()


def test_off_a_terminal_a_line_every_few_seconds_and_the_last_one():
    said = run(False, [(second, "stoves", 100 * second, 1000) for second in range(11)])
    assert (
        said
        == "stoves: 500 of 1,000, 100 a second, 0:05 left\nstoves: 1,000 of 1,000, 100 a second\n"
    )


def test_a_short_command_says_one_line():
    assert run(False, [(0, "stoves", 5, 5)]) == "stoves: 5 of 5\n"


def test_on_a_terminal_a_bar_grows_in_one_line_with_rate_and_time_left():
    said = run(
        True,
        [
            (0, "stoves", 0, 7200),
            (10, "stoves", 20, 7200),
            (10.05, "stoves", 21, 7200),
            (3600, "stoves", 7200, 7200),
        ],
    )
    first, second, last = said.split("\r")[1:]
    assert first.startswith("[........................] stoves: 0 of 7,200")
    assert "20 of 7,200, 2 a second, 59:50 left" in second
    assert last.startswith(
        "[########################] stoves: 7,200 of 7,200, 2 a second"
    ) and last.endswith("\n")
    assert said.count("\n") == 1


def test_what_an_earlier_run_did_says_nothing_of_this_ones_speed():
    said = run(False, [(0, "records", 9000, 10000), (10, "records", 9100, 10000)])
    assert said == "records: 9,100 of 10,000, 10 a second, 1:30 left\n"


def test_hours_are_written_as_hours():
    said = run(False, [(0, "records", 0, 100000), (10, "records", 100, 100000)])
    assert "2:46:30 left" in said


def test_an_interrupted_command_says_what_is_kept_and_how_to_go_on(capsys):
    with pytest.raises(KeyboardInterrupt), told_if_interrupted("all is kept; go on"):
        raise KeyboardInterrupt
    assert capsys.readouterr().err == "\nqcapp: interrupted; all is kept; go on\n"
