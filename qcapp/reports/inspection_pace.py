"""Stoves shown in a hurry: a gentle hint for the yard lead. It blames nobody and changes no
figure.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

# A good stove takes about a minute; a handful in a row under this is worth a friendly question.
QUICK_SECONDS = 40
MIN_RUN = 5
# So many equal readings on so many stoves in a row are hardly made by hand.
MIN_READINGS = 3


@dataclass(frozen=True)
class PaceSignal:
    """kind: quick or alike. stoves: keys in order; seconds: from the first one's start to the last
    one's end.
    """

    kind: str
    inspector: str
    stoves: tuple[str, ...]
    began_at: str
    seconds: int

    @property
    def stage(self) -> str:
        """Of all of them, or "" where there are several."""
        stages = {key.partition("/")[0] for key in self.stoves}
        return stages.pop() if len(stages) == 1 else ""


@dataclass(frozen=True)
class _Inspection:
    stove: str
    inspector: str
    began_at: str
    captured_at: str
    seconds: float
    readings: tuple[tuple[str, tuple[str, ...]], ...]
    is_timed: bool


def find_pace_signals(events: Iterable[Mapping[str, Any]]) -> list[PaceSignal]:
    """events: first-pass inspections as captured. Newest signal first.

    One typed in from paper has no time of its own for the walk, so it is never quick; it may be
    alike.
    """
    by_hand: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for event in events:
        by_hand.setdefault((event["inspector"], event["device_id"]), []).append(event)
    signals: list[PaceSignal] = []
    for own in by_hand.values():
        inspections = _list_inspections(sorted(own, key=lambda event: event["captured_at"]))
        signals += _list_signals(
            "quick",
            _cut_runs(
                inspections, lambda _before, now: now.is_timed and now.seconds <= QUICK_SECONDS
            ),
        )
        signals += _list_signals("alike", _cut_runs(inspections, _is_alike))
    return sorted(signals, key=lambda signal: signal.began_at, reverse=True)


def _list_inspections(events: Sequence[Mapping[str, Any]]) -> list[_Inspection]:
    inspections, before = [], ""
    for event in events:
        # A stove begun before the last one was finished counts from then: two were open at once.
        began_at = (
            max(event["body"]["started_at"], before) if before else event["body"]["started_at"]
        )
        seconds = max(0.0, (_moment(event["captured_at"]) - _moment(began_at)).total_seconds())
        readings = tuple(
            sorted(
                (check, tuple(answer["values"]))
                for check, answer in event["body"]["answers"].items()
                if answer.get("values")
            )
        )
        is_timed = event["body"].get("source") != "paper"
        inspections.append(
            _Inspection(
                f"{event['stage']}/{event['stove']}",
                event["inspector"],
                began_at,
                event["captured_at"],
                seconds,
                readings,
                is_timed,
            )
        )
        before = event["captured_at"]
    return inspections


def _is_alike(before: _Inspection | None, now: _Inspection) -> bool:
    if sum(len(values) for _check, values in now.readings) < MIN_READINGS:
        return False
    return before is None or before.readings == now.readings


def _cut_runs(
    inspections: Sequence[_Inspection], belongs: Callable[[_Inspection | None, _Inspection], bool]
) -> list[list[_Inspection]]:
    """Longest stretches in which each inspection belongs to the one before (None: to a new
    stretch).
    """
    runs: list[list[_Inspection]] = [[]]
    for inspection in inspections:
        if runs[-1] and belongs(runs[-1][-1], inspection):
            runs[-1].append(inspection)
        else:
            runs.append([inspection] if belongs(None, inspection) else [])
    return [run for run in runs if len(run) >= MIN_RUN]


def _list_signals(kind: str, runs: Iterable[Sequence[_Inspection]]) -> Iterable[PaceSignal]:
    for run in runs:
        seconds = round((_moment(run[-1].captured_at) - _moment(run[0].began_at)).total_seconds())
        yield PaceSignal(
            kind,
            run[0].inspector,
            tuple(inspection.stove for inspection in run),
            run[0].began_at,
            seconds,
        )


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)
