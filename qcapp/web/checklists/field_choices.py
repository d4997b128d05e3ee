"""What may be chosen for a field of a draft, in words."""

from collections.abc import Collection, Iterator, Mapping
from typing import Any, get_args

from qcapp.checklist.base_check import DecisionRule, PhotoFigure, Severity, Statistic
from qcapp.checklist.field_types import TICKS
from qcapp.checklist.field_words import CODES as CODE_WORDS
from qcapp.checklist.field_words import NO, YES
from qcapp.checklist.photo import KINDS as PHOTO_KINDS
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.inspection.terms import RULES, SEVERITIES, TRADES, VERDICTS

# (value, words)
Choice = tuple[str, str]


def list_choices(
    name: str, source: Mapping[str, Any], check: Mapping[str, Any], pictures: Collection[str]
) -> Iterator[Choice]:
    """What may be chosen for the field of this name; nothing where it is typed. pictures: names
    that a check may use.
    """
    if name in ("tool", "picture", "side", "fault", "photo", "figure"):
        yield "", phrase("none")
    if name in ("part", "step", "tool"):
        for item in source.get(f"{name}s", ()):
            yield item["id"], text_of(item["title"])
    elif name == "fault":
        for fault in check["faults"]:
            yield fault["id"], text_of(fault["title"])
    elif name == "picture":
        yield from ((one, one.replace("-", " ")) for one in sorted(pictures))
    elif name in TICKS:
        yield from (("no", NO), ("yes", YES))
    else:
        yield from _list_codes(name)


def _list_codes(name: str) -> Iterator[Choice]:
    codes: dict[str, Any] = {
        "severity": Severity,
        "decision": DecisionRule,
        "by": Statistic,
        "side": ("below", "above"),
        "verdict": ("pass", "fail"),
        "photo": PHOTO_KINDS,
        "figure": PhotoFigure,
    }
    words = {**CODE_WORDS, **SEVERITIES, **RULES, **VERDICTS, **TRADES}
    found = codes.get(name, ())
    for code in found if isinstance(found, tuple) else get_args(found):
        yield code, words[code]
