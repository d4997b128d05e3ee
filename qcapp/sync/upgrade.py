"""Pushes of older protocols: brought to today's words step by step, and answered in their own.

A phone that lay in a drawer for a year must still be able to hand in its work, so a step stays
here for ever. The events inside are kept as they came; only the envelope is translated.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from qcapp.sync.protocol import PROTOCOL


@dataclass(frozen=True)
class Step:
    """From one protocol to the next: raise_push for what comes in, lower_answer for what goes back."""

    raise_push: Callable[[dict], dict]
    lower_answer: Callable[[dict], dict]


# By the older protocol's number; the first change of the protocol adds {1: Step(...)}.
STEPS: Mapping[int, Step] = {}


def raise_push(data: Any) -> Any:
    """The push in today's words; what is of no older protocol is given back as it is."""
    while isinstance(data, dict) and _is_older(data.get("protocol")):
        number = data["protocol"]
        data = {**STEPS[number].raise_push(data), "protocol": number + 1}
    return data


def lower_answer(answer: dict, asked: Any) -> dict:
    """Today's answer in the words of the protocol that was asked with."""
    older = [
        number for number in sorted(STEPS, reverse=True) if _is_older(asked) and number >= asked
    ]
    for number in older:
        answer = {**STEPS[number].lower_answer(answer), "protocol": number}
    return answer


def _is_older(number: Any) -> bool:
    return type(number) is int and number in STEPS and number < PROTOCOL
