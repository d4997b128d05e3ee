"""Whole checks and checklists from the few keys that matter to a judge.

The vectors and the random cases name only what decides a verdict; words, part, step and the rest
that the model asks for are filled in here.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from qcapp.checklist.model import Checklist

_WORDS = {"en": "words"}
_ANY_CHECK = {
    "part": "door",
    "step": "cut-door",
    "severity": "major",
    "ask": _WORDS,
    "how": _WORDS,
    "caution": None,
    "basis": "placeholder",
    "when": {},
    "faults": [],
}
_NUMBER = {"unit": "mm", "resolution": 1, "uncertainty": 0, "decision": "simple"}


def complete_check(short: Mapping[str, Any]) -> dict[str, Any]:
    """The compiled shape of a check of which only some keys are given."""
    check = {**_ANY_CHECK, **(_NUMBER if "limits" in short else {}), **short}
    if "n" in check:
        check.setdefault("labels", [_WORDS] * check["n"])
    if "options" in check:
        check["options"] = [{"title": _WORDS, **option} for option in check["options"]]
    return check


def complete_compiled(checks: Iterable[Mapping[str, Any]], **more: Any) -> dict[str, Any]:
    """The compiled shape of a checklist with these (short) checks."""
    checks = [complete_check(check) for check in checks]
    steps = dict.fromkeys(check["step"] for check in checks)
    parts = dict.fromkeys(check["part"] for check in checks)
    return {
        "id": "finished-stove",
        "revision": 1,
        "title": _WORDS,
        "stage": "finished",
        "drawing": "round-stove.svg",
        "sizes": ["small", "medium", "large"],
        "parts": [{"id": part, "title": _WORDS} for part in parts],
        "steps": [{"id": step, "trade": "metalwork", "title": _WORDS} for step in steps],
        "checks": checks,
        **more,
    }


def build_checklist(checks: Iterable[Mapping[str, Any]], **more: Any) -> Checklist:
    return Checklist.from_compiled(complete_compiled(checks, **more))
