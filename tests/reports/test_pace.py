"""Signals of haste: the runs they name, and what is none."""

from datetime import UTC, datetime, timedelta

from qcapp.reports.inspection_pace import find_pace_signals

START = datetime(2026, 11, 24, 8, tzinfo=UTC)


def inspection(n, start_s, took_s, inspector="I01", values=("100", "70", "12")):
    def at(seconds):
        return (
            (START + timedelta(seconds=seconds))
            .isoformat(timespec="milliseconds")
            .replace("+00:00", "Z")
        )

    answers = {f"check-{place}": {"values": [value]} for place, value in enumerate(values)}
    return {
        "stage": "finished",
        "stove": f"S{n}",
        "inspector": inspector,
        "device_id": "d",
        "captured_at": at(start_s + took_s),
        "body": {"started_at": at(start_s), "answers": answers},
    }


def varied(n):
    return (str(100 + n), "70", "12")


def test_seven_stoves_in_four_minutes_are_named():
    events = [
        inspection(0, 0, 90, values=varied(0)),
        *(inspection(n, 300 + 34 * n, 30, values=varied(n)) for n in range(1, 8)),
        inspection(8, 4000, 70, values=varied(8)),
    ]
    (signal,) = find_pace_signals(events)
    assert (signal.kind, signal.inspector, len(signal.stoves), signal.seconds) == (
        "quick",
        "I01",
        7,
        6 * 34 + 30,
    )
    assert signal.stoves[0] == "finished/S1"


def test_four_quick_ones_a_pause_and_ordinary_pace_are_no_sign():
    assert find_pace_signals([inspection(n, 40 * n, 30, values=varied(n)) for n in range(4)]) == []
    assert (
        find_pace_signals([inspection(n, 100 * n, 70, values=varied(n)) for n in range(30)]) == []
    )
    apart = [*range(0, 160, 40), *range(5000, 5160, 40)]
    # Each was quick, but the run is one run only when nothing slow lies between.
    slow = inspection(99, 1000, 90, values=varied(99))
    assert (
        find_pace_signals(
            [*(inspection(n, s, 30, values=varied(n)) for n, s in enumerate(apart)), slow]
        )
        == []
    )


def test_two_stoves_open_at_once_do_not_hide_the_haste():
    """All begun at eight o'clock and finished one after the other:
    each counts from the one before.
    """
    events = [inspection(n, 0, 20 * (n + 1), values=varied(n)) for n in range(6)]
    (signal,) = find_pace_signals(events)
    assert len(signal.stoves) == 6 and signal.seconds == 120


def test_five_alike_in_a_row_are_named_and_other_hands_are_apart():
    events = [inspection(n, 200 * n, 90) for n in range(5)]
    (signal,) = find_pace_signals(events)
    assert (signal.kind, len(signal.stoves)) == ("alike", 5)
    mixed = [inspection(n, 200 * n, 90, inspector=f"I0{n % 2}") for n in range(8)]
    assert find_pace_signals(mixed) == []


def test_few_readings_are_easily_alike_and_no_sign():
    assert find_pace_signals([inspection(n, 200 * n, 90, values=("19",)) for n in range(9)]) == []


def test_typed_in_from_paper_is_never_quick_and_may_be_alike():
    """Such a record starts when it ends, so its zero seconds say nothing of the walk."""

    def typed(n, values):
        event = inspection(n, 60 * n, 0, values=values)
        event["body"]["source"] = "paper"
        return event

    assert find_pace_signals([typed(n, varied(n)) for n in range(8)]) == []
    (signal,) = find_pace_signals([typed(n, ("100", "70", "12")) for n in range(8)])
    assert (signal.kind, len(signal.stoves)) == ("alike", 8)
