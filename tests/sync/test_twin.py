"""The phone of the fault tests follows the rules of the real one, asked of the real modules."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcapp.sync.quarantine_reasons import UNKNOWN_BATCH
from tests.inspection.phone import running_phone
from tests.sync.twin.call import Answer, Heard, classify, fill_batch, next_size
from tests.sync.twin.memory import FINAL_STATES, is_same_position, judge_loss, settle_row
from tests.sync.twin.way import HTML, REFUSAL, STRANGERS


@pytest.fixture(scope="module")
def phone():
    with running_phone("phone_lines.js") as asked:
        yield asked


words = st.sampled_from((*FINAL_STATES, "retry", "stored", "", "constructor", "toString"))
positions = st.none() | st.fixed_dictionaries(
    {"seq": st.integers(0, 2), "chain": st.sampled_from("ab")}
)


@given(
    outcome=words,
    reason=st.sampled_from((None, UNKNOWN_BATCH(batch="B9").to_json())),
    seq=st.integers(0, 9),
    kept=st.sampled_from((None, 0, 4)),
    place=st.sampled_from((None, 3)),
    old=st.booleans(),
)
def test_row_after_an_outcome(phone, outcome, reason, seq, kept, place, old):
    row = {"id": "e1", "event": {}, "origin": "own", "state": "unsent"}
    row |= {} if kept is None else {"seq": kept}
    row |= {"reason": {"code": "too_large", "params": {}}} if old else {}
    result = {"outcome": outcome, "seq": place, **({"reason": reason} if reason else {})}
    assert phone.ask("settle", row=row, result=result, seq=seq) == settle_row(row, result, seq)


@given(one=positions, other=positions)
def test_same_position(phone, one, other):
    assert phone.ask("same", one=one, other=other) == is_same_position(one, other)


canaries = st.none() | st.fixed_dictionaries(
    {"created": st.integers(0, 5)},
    optional={
        "device_id": st.sampled_from(("d1", "d2")),
        "acked": st.integers(0, 5),
        "last_saved_at": st.just("t"),
    },
)


@given(canary=canaries, device=st.sampled_from((None, "d1")), dev_seq=st.integers(0, 5))
def test_loss(phone, canary, device, dev_seq):
    assert phone.ask("loss", canary=canary, device_id=device, dev_seq=dev_seq) == judge_loss(
        canary, device, dev_seq
    )


OURS = (
    Answer(200, {}, '{"request_id": "r1"}'),
    Answer(200, {}, '{"request_id": "r2"}'),
    Answer(200, {}, '{"request_id": "r1"'),
    Answer(401, {}, REFUSAL),
    Answer(400, {}, REFUSAL),
    Answer(409, {}, REFUSAL),
    Answer(413, {}, REFUSAL),
    Answer(503, {}, HTML),
    Answer(429, {"Retry-After": "7"}, ""),
    Answer(503, {"Retry-After": "99999"}, ""),
    Answer(503, {"Retry-After": "soon"}, ""),
    Answer(200, {"Upload-Offset": "12"}, ""),
    Answer(204, {"Upload-Offset": "0"}, ""),
    Answer(409, {"Upload-Offset": "5"}, ""),
    Answer(200, {"Upload-Offset": "-1"}, ""),
    Answer(200, {"Upload-Offset": "1e3"}, ""),
    Answer(500, {"Upload-Offset": "5"}, ""),
    Answer(400, {}, '{"error": {"what": 5}}'),
    Answer(400, {}, '{"error": "no"}'),
    Answer(400, {}, '{"error": null}'),
)


@pytest.mark.parametrize("is_bodyless", [True, False])
@pytest.mark.parametrize("answer", [*STRANGERS.values(), *OURS], ids=repr)
def test_what_an_answer_means(phone, answer, is_bodyless):
    real = phone.ask(
        "classify",
        status=answer.status,
        headers=dict(answer.headers),
        text=answer.text,
        is_bodyless=is_bodyless,
    )
    heard = classify(answer, None if is_bodyless else lambda data: data.get("request_id") == "r1")
    assert {key: value for key, value in real.items() if value is not None} == {
        key: value for key, value in vars(heard).items() if value is not None and key != "timed_out"
    }


@given(
    sizes=st.lists(st.sampled_from((10, 60_000, 130_000, 250_000)), max_size=5),
    size=st.integers(1, 6),
)
def test_what_fits_in_a_request(phone, sizes, size):
    rows = [{"event": "x" * long} for long in sizes]
    assert phone.ask("fill", sizes=sizes, size=size) == len(fill_batch(rows, size))


@given(
    kind=st.sampled_from(("ok", "too-large", "refused", "wait", "not-connected")),
    sent=st.integers(1, 100),
    size=st.integers(1, 100),
    timed_out=st.booleans(),
)
def test_next_size(phone, kind, sent, size, timed_out):
    heard = Heard(kind, timed_out=timed_out)
    assert phone.ask(
        "next", size=size, sent=sent, heard={"kind": kind, "ms": 10, "timed_out": timed_out}
    ) == next_size(size, sent, heard)
