"""Reading a large object piece by piece gives what reading it whole gives."""

import io
import json
import time
from collections.abc import Callable
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcapp.errors import BadInput
from qcapp.sync import json_elements
from qcapp.sync.json_elements import ObjectReader

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(alphabet='a"\\[]{},:é\n ', max_size=12),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=12,
)


def read(text: bytes, most: int = 10_000) -> dict:
    found: dict = {}
    for name, is_element, part in ObjectReader(io.BytesIO(text), {"events": most}).walk():
        value = json.loads(part)
        if is_element:
            found.setdefault(name, []).append(value)
        else:
            found[name] = value
    return found


@settings(max_examples=60)
@given(
    whole=st.fixed_dictionaries({"events": st.lists(VALUES, max_size=6), "x": VALUES}),
    indent=st.sampled_from([None, 1]),
    piece=st.integers(1, 40),
)
def test_pieces_give_what_the_whole_gives(whole, indent, piece):
    text = json.dumps(whole, indent=indent).encode()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(json_elements, "PIECE", piece)
        assert read(text) == json.loads(text)


@pytest.mark.parametrize(
    "text",
    [
        b'{"events": [1, 2',
        b'{"events": [1, 2]',
        b'{"events": [1, 2]} more',
        b'{"events" [1]}',
        b'{"events": [1 2]}',
        b'{"events": [,]}',
        b'{"events": [1}',
        b'{"events": ["a]}',
        b'{"a": }',
        b"{1: 2}}",
    ],
)
def test_what_is_no_json_is_refused(text):
    # An element itself is looked at by whoever reads it.
    with pytest.raises((BadInput, ValueError)):
        read(text)


def test_element_over_its_limit_is_refused_and_the_limit_itself_is_not():
    assert read(b'{"events": ["' + b"x" * 98 + b'"]}', most=100)["events"] == ["x" * 98]
    for long in (b'"' + b"x" * 99 + b'"', b"[" + b"1," * 60 + b"1]", b"1" * 101):
        with pytest.raises(BadInput):
            read(b'{"events": [' + long + b"]}", most=100)


def time_work(work: Callable[[bytes], object], text: bytes) -> float:
    """Seconds of processor time, also when the text is refused."""
    began = time.process_time()
    with suppress(BadInput):
        work(text)
    return time.process_time() - began


def test_blanks_and_members_without_end_cost_no_work():
    """20 MB of blanks are 20 kB packed; a step for each held the server for half a minute."""
    members = b"{" + b'"a":1,' * 5_000_000 + b'"events": []}'
    blanks = b"{" + b" " * 20_000_000 + b'"events": [1]}'
    assert read(blanks) == {"events": [1]}
    with pytest.raises(BadInput):
        read(members)
    usual = time_work(json.loads, members)
    assert max(time_work(read, blanks), time_work(read, members)) < usual
