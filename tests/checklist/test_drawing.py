"""A drawing goes into the phone's page as it is, so nothing in it may run or load."""

from pathlib import Path

import pytest

from qcapp.checklist.drawing import read_drawing_ids
from qcapp.errors import BadInput


def read(folder: Path, inner: str) -> set[str]:
    path = folder / "drawing.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"'
        f' xmlns:xlink="http://www.w3.org/1999/xlink">{inner}</svg>',
        encoding="utf-8",
    )
    return read_drawing_ids(path)


def test_ids_of_groups_and_shapes_are_found_at_any_depth(tmp_path: Path) -> None:
    assert read(tmp_path, '<g id="door"><path id="latch"/></g><use href="#door"/>') == {
        "door",
        "latch",
    }


@pytest.mark.parametrize(
    "inner",
    [
        "<script>1</script>",
        "<g><foreignObject/></g>",
        "<style>*{}</style>",
        '<g onclick="1"/>',
        '<use href="other.svg#a"/>',
        '<use xlink:href="https://example.org/a.svg"/>',
        '<path fill="url(https://example.org/a)"/>',
        '<image href="#a"/>',
        '<a href="#a"><path/></a>',
        '<use href="#a"><animate attributeName="href" to="https://example.org/a.svg#a"/></use>',
    ],
)
def test_active_drawing_is_refused(inner: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"drawing\.svg"):
        read(tmp_path, inner)


@pytest.mark.parametrize("inner", ["<g>", "&unknown;"])
def test_broken_drawing_is_refused(inner: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="not well-formed"):
        read(tmp_path, inner)


def test_other_xml_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "page.svg"
    path.write_text("<html/>", encoding="utf-8")
    with pytest.raises(BadInput, match="not an SVG"):
        read_drawing_ids(path)
