"""Stove tags: each code reads back as the serial beside it, and nothing is cut off."""

from datetime import UTC, datetime
from itertools import chain

import pytest
import zxingcpp

from qcapp.documents.tags_pdf import Tag, build_tags_pdf
from qcapp.inspection.serial import build_serial, build_tag_serial, check_tag_serial
from tests.documents.looking import has_white_edge, look_at, read_pages, squeeze

DATED = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def build(tags, **change):
    return build_tags_pdf(
        tags,
        **{
            "yard": "Test yard",
            "batch": "B1",
            "line": "First batch, size medium",
            "dated": DATED,
            **change,
        },
    )


def decode(pictures) -> list[list[str]]:
    return [[found.text for found in zxingcpp.read_barcodes(picture)] for picture in pictures]


@pytest.fixture(scope="module")
def checked():
    serials = [build_serial("B1-", number) for number in range(1, 31)]
    tags = [Tag(build_tag_serial(serial), serial) for serial in serials]
    with pytest.MonkeyPatch.context() as patch:
        pdf, look = look_at(patch, lambda: build(tags))
    return tags, pdf, look


def test_every_code_reads_back_as_the_tags_serial(checked):
    tags, _pdf, look = checked
    read = decode(look.pictures)
    assert [len(page) for page in read] == [24, 6]
    assert sorted(chain.from_iterable(read)) == sorted(tag.label for tag in tags)
    assert [check_tag_serial(tag.label) for tag in tags] == [tag.punched for tag in tags]


def test_every_serial_stands_beside_its_code_and_the_sheet_says_what_lasts(checked):
    tags, pdf, look = checked
    pages = read_pages(pdf)
    for place, tag in enumerate(tags):
        assert tag.label in pages[place // 24] and f"Punch{tag.punched}" in pages[place // 24]
    for page in pages:
        assert (
            squeeze("paper, paint and stickers burn off") in page
            and squeeze("take the tag off before the stove is lit") in page
        )
    assert all(has_white_edge(picture, 8) for picture in look.pictures)


def test_same_tags_give_the_same_bytes(checked):
    tags, pdf, _look = checked
    assert build(tags) == pdf


@pytest.mark.parametrize(
    "serial",
    ["7", "OLD 12/b", '#panic("x") *b* $x$', "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW", "Nº 5-é"],
)
def test_plain_serial_of_any_form_is_shown_and_scanned_as_it_is(monkeypatch, serial):
    pdf, look = look_at(monkeypatch, lambda: build([Tag(serial, serial)]))
    assert decode(look.pictures) == [[serial]]
    (page,) = read_pages(pdf)
    assert squeeze(serial) in page and squeeze("character after the point") not in page
    assert has_white_edge(look.pictures[0], 8)
