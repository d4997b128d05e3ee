"""Check characters and serials of tags: published values, what is found, and what is not.

ISO/IEC 7064 MOD 37,36 is the check of the Global Release Identifier and of the International
Standard Audiovisual Number (ISO 15706). The values below are quoted in many public sources; the
standards themselves were not opened.
"""

import pytest

from qcapp.errors import BadInput
from qcapp.inspection.check_character import CHARACTERS, build_check_character, has_check_character
from qcapp.inspection.serial import build_serial, build_tag_serial, check_tag_serial, read_serial

PUBLISHED = [
    ("A12425GABC1234002", "M"),
    ("00000000C36D002B", "K"),
    ("00000000C36D002B00000000", "E"),
]


@pytest.mark.parametrize(("text", "check"), PUBLISHED)
def test_published_values(text, check):
    assert build_check_character(text) == check and has_check_character(text + check)


def test_every_single_wrong_sign_of_a_tag_is_found():
    """Of every serial of a batch of 60: 5 places of 35 other signs,
    and the check character itself.
    """
    for number in range(1, 61):
        serial, check = build_tag_serial(build_serial("B1-", number)).split(".")
        signs = serial.replace("-", "") + check
        wrong = [
            signs[:place] + other + signs[place + 1 :]
            for place, sign in enumerate(signs)
            for other in set(CHARACTERS) - {sign}
        ]
        assert len(wrong) == 6 * 35 and not any(map(has_check_character, wrong))


def test_nearly_every_swap_of_neighbours_is_found():
    pairs = [(first, second) for first in CHARACTERS for second in CHARACTERS if first != second]
    missed = sum(
        build_check_character(f"K7{a}{b}Q4X") == build_check_character(f"K7{b}{a}Q4X")
        for a, b in pairs
    )
    assert missed / len(pairs) < 0.01


def test_every_serial_of_a_batch_comes_back_from_its_tag():
    for number in range(1, 1201):
        serial = build_serial("G4-", number)
        assert check_tag_serial(build_tag_serial(serial)) == serial
        assert (
            read_serial(build_tag_serial(serial).lower(), prefix="G4-", is_checked=True) == serial
        )


def test_numbers_have_three_digits_and_more_when_needed():
    assert [build_serial("B1-", number) for number in (7, 70, 1000)] == [
        "B1-007",
        "B1-070",
        "B1-1000",
    ]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("B1-007", "has no check character"),
        ("B1-008.N", "mistyped"),
        ("b2-007.9", "not a serial of this batch"),
    ],
)
def test_refusal_says_what_and_what_to_do(typed, says):
    with pytest.raises(BadInput) as refusal:
        read_serial(typed, prefix="B1-", is_checked=True)
    assert says in refusal.value.what and refusal.value.where == "serial" and refusal.value.todo
