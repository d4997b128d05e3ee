"""Python and the phone's JavaScript give the same answer to thousands of random questions."""

import json
from collections.abc import Iterator
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcapp.checklist.base_check import NumberCheck
from qcapp.checklist.check_kinds import CHECK_KINDS, Check
from qcapp.checklist.load import load_checklist
from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput
from qcapp.inspection.disposition import allowed_dispositions, needed_checks
from qcapp.inspection.event import canonical, event_hash
from qcapp.inspection.judge import counts_as_fail, hinders_release, is_left_out, judge_answers
from qcapp.inspection.number import number_value, parse_number
from qcapp.inspection.serial import doubt_serial, find_serial_number, serial_key
from qcapp.inspection.stove import fold_stove
from tests.builders import ROOT
from tests.inspection.checks import build_checklist
from tests.inspection.phone import Script, running_script
from tests.inspection.strategies import (
    json_values,
    judge_questions,
    nonsense,
    stove_events,
    typed_texts,
)

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def phone() -> Iterator[Script]:
    with running_script() as asked:
        yield asked


def test_kinds_are_the_same_on_both_sides(phone: Script) -> None:
    told = {
        name: {
            "answer": one.answer_key,
            "isWhole": getattr(one, "is_whole", False),
            "takesSecond": getattr(one, "takes_second", False),
        }
        for name, one in CHECK_KINDS.items()
    }
    assert phone.ask("kinds") == told


def many(count: int) -> settings:
    return settings(max_examples=count, deadline=None)


@many(600)
@given(question=judge_questions())
def test_judges_agree_on_verdict_reason_and_value(phone: Script, question: dict) -> None:
    checklist = build_checklist(question["checks"])
    answers, context = question["answers"], question["context"]
    judged = judge_answers(checklist, answers, context)
    python = [
        {
            **judged[check.id]._asdict(),
            "counts_as_fail": counts_as_fail(check, judged[check.id].verdict),
            "hinders_release": hinders_release(check, judged[check.id]),
            "is_left_out": is_left_out(judged[check.id]),
        }
        for check in checklist.checks
    ]
    assert (
        phone.ask("judge", checklist=checklist.compiled(), answers=answers, context=context)
        == python
    )


def list_photo_checks() -> list[tuple[Checklist, Check]]:
    return [
        (checklist, check)
        for path in sorted((ROOT / "checklists").glob("*.yaml"))
        for checklist in [load_checklist(path)]
        for check in checklist.checks
        if getattr(check, "photo", None)
    ]


@pytest.mark.parametrize(
    ("checklist", "check"),
    [pytest.param(*one, id=f"{one[0].id}-{one[1].id}") for one in list_photo_checks()],
)
def test_every_shipped_photo_check_is_held_against_the_photos_uncertainty(
    phone: Script, checklist: Checklist, check: NumberCheck
) -> None:
    """A tenth inside the drawn-in limit passes, a tenth outside it is doubtful, on both sides."""
    for size, limits in check.limits.items():
        for sure in (0.2, 1.5):
            is_length = check.photo_figure is not None
            wanted = {}
            for limit, way in ((limits.lower, 1), (limits.upper, -1)):
                if limit is not None and is_length:
                    wanted[f"{limit + way * (sure + 0.1):.1f}"] = "pass"
                    wanted[f"{limit + way * (sure - 0.1):.1f}"] = "doubtful"
                elif limit is not None:
                    wanted[f"{limit:g}"] = "pass"
            # Of a narrow check and a poor photo no value is sure.
            if is_length and None not in (limits.lower, limits.upper):
                room = limits.upper - limits.lower
                wanted = wanted if room > 2 * sure + 0.2 else {}
            for text, verdict in wanted.items():
                kept = {"uncertainty": f"{sure}"} if is_length else {}
                answers = {check.id: {"values": [text], "holes": {"is_taken": True, **kept}}}
                context = {"size": size, "batch": {}}
                asked = {"answers": answers, "context": context}
                told = phone.ask("judge", checklist=checklist.compiled(), **asked)
                place = checklist.checks.index(check)
                judged = judge_answers(checklist, answers, context)[check.id]
                assert (judged.verdict, told[place]["verdict"]) == (verdict, verdict), text


@many(1500)
@given(text=typed_texts | nonsense)
def test_number_grammars_agree(phone: Script, text: object) -> None:
    canonical_text = parse_number(text)
    value = None if canonical_text is None else number_value(canonical_text)
    assert phone.ask("number", text=text) == {"canonical": canonical_text, "value": value}


@given(text=typed_texts)
def test_canonical_text_means_itself(text: str) -> None:
    once = parse_number(text)
    if once is not None:
        assert parse_number(once) == once


@given(
    severities=st.lists(st.sampled_from(["critical", "major", "minor"]), max_size=3),
    missing=st.booleans(),
)
def test_dispositions_agree(phone: Script, severities: list[str], missing: bool) -> None:
    assert phone.ask("disposition", severities=severities, missing=missing) == allowed_dispositions(
        severities, missing
    )


@st.composite
def checks_with_inputs(draw: st.DrawFn) -> list[dict]:
    ids = [f"c{place}" for place in range(draw(st.integers(0, 6)))]
    severity, some = (
        st.sampled_from(["critical", "major", "minor"]),
        st.lists(st.sampled_from([*ids, "gone"]), max_size=3),
    )
    return [{"id": check_id, "severity": draw(severity), "inputs": draw(some)} for check_id in ids]


@given(checks=checks_with_inputs(), is_short=st.booleans())
def test_needed_checks_agree(phone: Script, checks: list[dict], is_short: bool) -> None:
    python = needed_checks([SimpleNamespace(**check) for check in checks], is_short)
    assert phone.ask("needed", checks=checks, is_short=is_short) == python


SERIAL_CHARACTERS = st.sampled_from("0123456789OoIil|Bb-/_ .\u00a0é\u0131\u00df")
serials = st.text(SERIAL_CHARACTERS, max_size=14)


@many(250)
@given(serial=serials, prefix=st.sampled_from(["", "B1-", "B1", "Ol"]) | serials)
def test_serials_agree(phone: Script, serial: str, prefix: str) -> None:
    key = serial_key(serial)
    assert phone.ask("serial", serial=serial, prefix=prefix, planned=20) == {
        "key": key,
        "number": find_serial_number(serial, prefix),
        "doubt": doubt_serial(serial, prefix, 20),
    }
    assert serial_key(key) == key


@many(250)
@given(events=stove_events())
def test_folds_agree(phone: Script, events: list[dict]) -> None:
    assert phone.ask("fold", events=events) == fold_stove(events)


@many(250)
@given(events=stove_events(), data=st.data())
def test_arrival_order_changes_nothing(events: list[dict], data: st.DataObject) -> None:
    """All may arrive in any order; only corrections and decisions keep theirs,
    because the later one wins.
    """
    shuffled = data.draw(st.permutations(events))
    ordered = ("correction", "quarantine_decision", "hold_decision")
    later_wins = iter([event for event in events if event["kind"] in ordered])
    arrived = [next(later_wins) if event["kind"] in ordered else event for event in shuffled]
    assert fold_stove(arrived) == fold_stove(events)


@many(250)
@given(value=json_values)
def test_canonical_bytes_and_hashes_agree(phone: Script, value: object) -> None:
    text = json.dumps(value)
    try:
        python = {"canonical": canonical(value).decode(), "hash": event_hash({"value": value})}
    except BadInput:
        python = {"refused": True}
    assert phone.ask("canonical", text=text) == python


@given(value=st.dictionaries(st.text(), st.text() | st.integers(0, 9)))
def test_canonical_json_means_the_same_value(value: dict) -> None:
    assert json.loads(canonical(value)) == value
