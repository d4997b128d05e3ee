"""Ids of version 7: the published example, and the fixed bits whatever the random ones are."""

import uuid

from hypothesis import given
from hypothesis import strategies as st

from qcapp.inspection.event import build_uuid7


def test_example_of_the_standard():
    """RFC 9562, appendix A.6: 2022-02-22 14:22:22 -5, rand_a CC3, rand_b 18C4DC0C0C07398F."""
    random_bits = (0xCC3 << 64) | 0x18C4DC0C0C07398F
    assert build_uuid7(0x017F22E279B0, random_bits) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


@given(st.integers(0, 2**48 - 1), st.integers(0, 2**80 - 1))
def test_version_variant_and_time_are_always_right(milliseconds, random_bits):
    found = uuid.UUID(build_uuid7(milliseconds, random_bits))
    assert found.version == 7 and found.variant == uuid.RFC_4122 and found.int >> 80 == milliseconds
