"""Random checks, answers and events that a phone could meet, and many it should not."""

import string
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

SIZES = ("small", "medium", "large")
ATTRIBUTES = ("painted", "coats", "clay")
FACTS = st.sampled_from([True, False, 0, 1, 2, "red", "", "1"])

# Up to four decimals, as can be typed; kept as Decimal so that limits and typed texts can meet.
decimals = st.decimals(min_value=0, max_value=500, places=4, allow_nan=False).map(
    lambda number: number.normalize() + 0
)
nonsense = st.one_of(
    st.sampled_from(
        [
            "",
            " ",
            ".",
            "5.",
            ".5",
            "1,5",
            "1e3",
            "1_0",
            "0x1",
            "-1",
            "+1",
            "\u00bd",
            "12 mm",
            "NaN",
            "Infinity",
            "00",
            "\u0661\u066b\u0665",
            " 7 ",
            "12345678",
            "1.00000",
            "1.2.3",
        ]
    ),
    st.text(max_size=6),
    st.none(),
    st.booleans(),
    st.integers(-5, 500),
    st.just([]),
    st.just(["7"]),
)

typed_texts = st.text(
    alphabet=st.sampled_from(
        string.digits + ".,\u066b \u00a0\u202f\t\u0660\u0661\u0669\u06f0\u06f5\u06f9-e_\ufeff\u0967"
    ),
    max_size=13,
) | st.from_regex(r"[0-9\u0660-\u0669]{1,8}([.,\u066b][0-9\u06f0-\u06f9]{1,5})?", fullmatch=True)


def to_json_number(number: Decimal | None) -> int | float | None:
    if number is None:
        return None
    return int(number) if number == int(number) else float(number)


@st.composite
def limits(draw: st.DrawFn) -> dict[str, Any]:
    lower, upper = sorted(draw(st.tuples(decimals, decimals)))
    uncertainty = draw(
        st.sampled_from([Decimal(0), Decimal("0.1"), Decimal("0.25"), Decimal("3.3333")])
    )
    lower = draw(st.sampled_from([lower, lower, None]))
    upper = draw(st.sampled_from([upper, upper, None]))
    found = {
        "lower": lower,
        "nominal": None,
        "upper": upper,
        "accept_lower": None if lower is None else lower + uncertainty,
        "accept_upper": None if upper is None else upper - uncertainty,
    }
    if draw(st.booleans()):
        found |= {
            "twice_lower": None if lower is None else lower + uncertainty / 2,
            "twice_upper": None if upper is None else upper - uncertainty / 2,
        }
    return found


@st.composite
def typed_numbers(draw: st.DrawFn, check_limits: dict[str, Any]) -> str:
    """A text that is a number, often on a limit or one smallest typed step beside it."""
    known = [limit for limit in check_limits.values() if limit is not None]
    near = st.sampled_from(known) if known else decimals
    number = draw(st.one_of(near, near, decimals))
    number += draw(st.sampled_from([0, 0, Decimal("0.0001"), Decimal("-0.0001"), 1, -1]))
    number = max(Decimal(0), number)
    text = draw(st.sampled_from([f"{number:f}", f"{number:.4f}", f"{number:.0f}"]))
    return draw(st.sampled_from([text, text, text.replace(".", ","), f" {text}"]))


photos = st.sampled_from(
    [{"uncertainty": text} for text in ("0.4", "1", "30", "250", "0", "-1", "1e3", "2000", 1, None)]
    + [{}, [], "uncertainty", None]
)


@st.composite
def number_checks(draw: st.DrawFn, check_id: str) -> tuple[dict[str, Any], Any]:
    """A check that wants numbers, and an answer (or the word "none" for no answer at all)."""
    kind = draw(st.sampled_from(["measure", "count", "readings"]))
    own = draw(limits())
    known = draw(st.sampled_from([SIZES, SIZES[:2]]))
    check: dict[str, Any] = {
        "id": check_id,
        "kind": kind,
        "decision": draw(st.sampled_from(["simple", "guarded"])),
        "possible": {"lower": 0, "upper": draw(st.sampled_from([300, 500, 1000]))},
        "limits": {
            size: {key: to_json_number(value) for key, value in own.items()} for size in known
        },
    }
    wanted = 1
    if kind == "readings":
        wanted = check["n"] = draw(st.integers(2, 5))
        check["by"] = draw(st.sampled_from(["smallest", "largest", "mean", "range"]))
        check["gauge"] = draw(st.booleans())
    count = draw(st.sampled_from([wanted, wanted, wanted, wanted, 0, wanted - 1, wanted + 1]))
    values: Any = [draw(typed_numbers(own)) for _ in range(count)]
    if values and draw(st.integers(0, 7)) == 0:
        values[draw(st.integers(0, len(values) - 1))] = draw(nonsense)
    if draw(st.integers(0, 3)):
        return check, {"values": values}
    if draw(st.integers(0, 7)):
        check |= {"photo": "holes", **({} if kind == "count" else {"figure": "margin"})}
    return check, {"values": draw(st.sampled_from([values, values[:1]])), "holes": draw(photos)}


@st.composite
def word_checks(draw: st.DrawFn, check_id: str) -> tuple[dict[str, Any], Any]:
    if draw(st.booleans()):
        return {"id": check_id, "kind": "tick"}, {
            "mark": draw(
                st.one_of(
                    st.sampled_from(["pass", "fail", "pass", "fail", "doubtful", ""]), nonsense
                )
            )
        }
    options = [
        {"id": name, "verdict": verdict, "fault": None}
        for name, verdict in (("clear", "pass"), ("dull", "fail"), ("dead", "fail"))
    ]
    chosen = st.one_of(st.sampled_from(["clear", "dull", "dead", "Clear", "constructor"]), nonsense)
    return {"id": check_id, "kind": "choice", "options": options}, {"option": draw(chosen)}


def trees(input_ids: list[str]) -> st.SearchStrategy:
    leaves = st.one_of(
        st.sampled_from([["input", name] for name in input_ids]),
        st.sampled_from([0, 1, 2, 100, 0.1, 2.5]),
    )
    return st.recursive(
        leaves,
        lambda inner: st.one_of(
            st.tuples(st.sampled_from("+-*/"), inner, inner).map(list),
            st.tuples(st.sampled_from(["neg", "sqrt", "abs"]), inner).map(list),
            st.tuples(st.sampled_from(["min", "max"]), inner, inner).map(list),
        ),
        max_leaves=6,
    )


@st.composite
def judge_questions(draw: st.DrawFn) -> dict[str, Any]:
    """{"checks", "answers", "context"}: about six checks of all kinds, answered somehow."""
    pairs = [draw(number_checks(f"number-{place}")) for place in range(3)]
    pairs += [draw(word_checks(f"word-{place}")) for place in range(2)]
    input_ids = ["number-0", "number-1", "number-2"]
    figure = {
        "id": "figure",
        "kind": "calculated",
        "decision": "guarded",
        "inputs": input_ids,
        "possible": {"lower": -10000, "upper": 10**7},
        "expression": draw(trees(input_ids)),
        "limits": {
            size: {key: to_json_number(value) for key, value in draw(limits()).items()}
            for size in SIZES
        },
    }
    pairs.append((figure, {}))
    answers: dict[str, Any] = {}
    for check, answer in pairs:
        if draw(st.integers(0, 9)) == 0:
            key = draw(st.sampled_from([f"batch.{name}" for name in ATTRIBUTES] + ["size"]))
            check["when"] = {key: draw(st.sampled_from(SIZES) if key == "size" else FACTS)}
        if draw(st.booleans()):
            check["may_not_apply"] = True
        marked = [
            {"mark": mark, **answer} for mark in ("not_applicable", "cannot_measure", "gauge")
        ]
        answers[check["id"]] = draw(
            st.sampled_from([answer] * 12 + [*marked, {}, None, "pass", []])
        )
    for check_id in draw(st.lists(st.sampled_from([*answers]), max_size=1)):
        del answers[check_id]
    return {
        "checks": [check for check, _ in pairs],
        "answers": answers,
        "context": {
            "size": draw(st.sampled_from([*SIZES, "giant"])),
            "batch": draw(st.dictionaries(st.sampled_from(ATTRIBUTES), FACTS)),
        },
    }


_CHECK_IDS = ("width", "latch", "ring")
_VERDICTS = ("pass", "fail", "doubtful", "not_applicable", "missing")
# What is looked at and corrected most stands twice, so that it is drawn more often.
_STOVE_KINDS = (
    "inspection",
    "inspection",
    "correction",
    "correction",
    "void",
    "photo_note",
    "quarantine_decision",
    "hold_decision",
)


@st.composite
def stove_events(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Events of one stove: inspections, corrections,
    voids, quarantine and hold decisions whose targets may not exist.
    """
    ids = [f"e{place}" for place in range(draw(st.integers(1, 9)))]
    events: list[dict[str, Any]] = []
    for place, event_id in enumerate(ids):
        kind = draw(st.sampled_from(_STOVE_KINDS))
        has_target = kind in ("correction", "void", "quarantine_decision", "hold_decision")
        target = draw(st.sampled_from([*ids, "nobody"])) if has_target else None
        events.append(
            {
                "id": event_id,
                "hash": f"h-{event_id}",
                "kind": kind,
                "device_id": draw(st.sampled_from(["d1", "d2"])),
                "dev_seq": draw(st.integers(1, 3)),
                "inspector": "ana",
                "batch": "B1",
                "stove": draw(st.sampled_from(["B1-007", "b1 7"])),
                "checklist_hash": "h1",
                "captured_at": draw(st.sampled_from(["t1", "t2", "t3"])),
                "body": draw(event_bodies(kind, target, events)),
                "photos": draw(st.lists(st.sampled_from(["p1", "p2", "p3"]), max_size=2)),
                "corrects": target,
                "place": place,
            }
        )
    return events


@st.composite
def event_bodies(
    draw: st.DrawFn, kind: str, target: str | None, earlier: list[dict[str, Any]]
) -> dict[str, Any]:
    seen: dict[str, Any] = {
        "verdicts": draw(st.dictionaries(st.sampled_from(_CHECK_IDS), st.sampled_from(_VERDICTS))),
        "disposition": {"kind": draw(st.sampled_from(["release", "rework", "hold"]))},
    }
    if kind == "correction":
        return {"reason": "typed wrong", "replacement": seen}
    if kind == "quarantine_decision":
        return draw(quarantine_decision_bodies(target, seen, earlier))
    if kind == "hold_decision":
        return {"disposition": {**seen["disposition"], "reason": "seen"}}
    return seen


@st.composite
def quarantine_decision_bodies(
    draw: st.DrawFn, target: str, body: dict[str, Any], earlier: list[dict[str, Any]]
) -> dict[str, Any]:
    """A decision about the content under `target`, or about another one that never came."""
    decision = {
        "action": "reject",
        "reason": "asked",
        "original_hash": draw(st.sampled_from([f"h-{target}", "h-other"])),
    }
    if draw(st.booleans()):
        return decision
    known = [event for event in earlier if event["kind"] in ("inspection", "correction", "void")]
    made = {
        "kind": "inspection",
        "device_id": "d3",
        "dev_seq": 1,
        "inspector": "ben",
        "batch": "B2",
        "stove": "B2-007",
        "checklist_hash": "h1",
        "captured_at": "t2",
        "body": body,
        "photos": [],
        "corrects": None,
    }
    accepted = draw(st.sampled_from([made, *known]))
    return {
        **decision,
        "action": "accept",
        "event": {**accepted, "id": target, "hash": decision["original_hash"]},
    }


@st.composite
def stove_checklists(draw: st.DrawFn) -> dict[str, Any]:
    """A (short) checklist of the checks that `stove_events` speak of, guarded or not."""
    return {
        "checks": [
            {
                "id": check_id,
                "kind": "measure",
                "decision": draw(st.sampled_from(["simple", "guarded"])),
                "possible": {"lower": 0, "upper": 9},
                "limits": {},
            }
            for check_id in draw(st.permutations(_CHECK_IDS))
        ]
    }


# Half characters are among the texts, so that both sides are seen to refuse them.
_texts = st.text(alphabet=st.characters(exclude_categories=()), max_size=8) | st.text(max_size=20)
json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.integers() | _texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_texts, inner, max_size=6),
    max_leaves=20,
)
