"""A drawing goes into the phone's page as it is: it may hold shapes, groups and text, and nothing
that runs, moves, loads or leads out.
"""

from pathlib import Path

import pytest

from qcapp.checklist.drawing import MAX_DRAWING_BYTES, check_shown, read_drawing_ids
from qcapp.checklist.svg import ATTRIBUTES, ELEMENTS, MAX_LEVELS
from qcapp.errors import BadInput

HTML = "http://www.w3.org/1999/xhtml"
SHIPPED = sorted((Path(__file__).parents[2] / "checklists").rglob("*.svg"))


def write(folder: Path, inner: str, *, before: str = "") -> Path:
    path = folder / "drawing.svg"
    path.write_text(
        f'{before}<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"'
        f' xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:h="{HTML}"\n>{inner}</svg>',
        encoding="utf-8",
    )
    return path


def read(folder: Path, inner: str, *, before: str = "") -> set[str]:
    return read_drawing_ids(write(folder, inner, before=before))


def test_ids_of_groups_and_shapes_are_found_at_any_depth(tmp_path: Path) -> None:
    assert read(tmp_path, '<g id="door"><path id="latch"/></g><use href="#latch"/>') == {
        "door",
        "latch",
    }


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_shipped_drawing_and_picture_passes(path: Path) -> None:
    name = f"pictures/{path.name}" if path.parent.name == "pictures" else path.name
    check_shown(name, path.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "inner",
    [
        "<title>Round stove</title><desc>seen from the left</desc>",
        '<text x="1" y="2" font-size="4" text-anchor="middle">12 <tspan dy="1">mm</tspan></text>',
        '<linearGradient id="a"><stop offset="1" stop-color="#fff"/></linearGradient>',
        '<rect width="3" height="4" fill="url(#a)" transform="rotate(3 1 2) scale(.9)"/>',
        '<path d="M0 0" style="fill:none;stroke:rgb(0,0,0); stroke-width:1.5;"/>',
        '<clipPath id="c"><circle r="3"/></clipPath><g clip-path="url(#c)" xml:space="preserve"/>',
        '<g id="hole"><circle r="1"/></g><use xlink:href="#hole" x="3"/>',
        "<!-- drawn by hand -->",
    ],
)
def test_what_a_line_drawing_needs_is_let_in(inner: str, tmp_path: Path) -> None:
    read(tmp_path, inner)


ACTIVE = {
    "<script>1</script>": "<script>",
    "<g><foreignObject/></g>": "<foreignObject>",
    "<style>*{}</style>": "<style>",
    '<image href="#a"/>': "<image>",
    '<a href="#a"><path/></a>': "<a>",
    '<use href="#a"><animate attributeName="href" to="https://example.org/#a"/></use>': "<animate>",
    '<set attributeName="href" to="x"/>': "<set>",
    '<animateTransform attributeName="transform"/>': "<animateTransform>",
    '<discard begin="1s"/>': "<discard>",
    '<handler type="x"/>': "<handler>",
    '<filter id="f"><feImage href="https://example.org/a.png"/></filter>': "<filter>",
    '<h:meta http-equiv="refresh" content="0;url=//x"/>': f"<meta> of the namespace {HTML}",
    '<h:form action="https://example.org"><h:input/></h:form>': f"<form> of the namespace {HTML}",
    '<g><h:img src="x" onerror="1"/></g>': f"<img> of the namespace {HTML}",
    '<h:embed src="x"/>': f"<embed> of the namespace {HTML}",
    '<h:object data="x"/>': f"<object> of the namespace {HTML}",
    '<h:iframe src="x"/>': f"<iframe> of the namespace {HTML}",
    "<h:script>1</h:script>": f"<script> of the namespace {HTML}",
    '<meta xmlns="http://www.w3.org/1999/xhtml" http-equiv="refresh"/>': "<meta> of the namespace",
    # Text to XML, elements to a page that reads it as HTML.
    '<!--><meta http-equiv="refresh" content="0;url=//x"/>-->': "a comment that begins with >",
    "<!---><img/>-->": "a comment that begins with >",
    "<desc><![CDATA[></desc><img src='x'>]]></desc>": "a CDATA section",
    "<desc><g>x</g></desc>": "<g> inside <desc>",
    "<title><text>x</text></title>": "<text> inside <title>",
    # A name that only differs in its case is another one in XML.
    "<SCRIPT>1</SCRIPT>": "<SCRIPT>",
    '<path xmlns="urn:x"/>': "<path> of the namespace urn:x",
    '<path xmlns=""/>': "<path> without the namespace of SVG",
    '<g onclick="1"/>': "onclick in <g>",
    '<g ONLOAD="1"/>': "ONLOAD in <g>",
    '<g xmlns:e="http://www.w3.org/2001/xml-events" e:event="load"/>': "event in <g>",
    '<use href="other.svg#a"/>': "href in <use>: other.svg#a",
    '<use href=" #a"/>': "href in <use>",
    '<use href=""/>': "href in <use>",
    '<use xlink:href="https://example.org/a.svg"/>': "href in <use>: https://example.org",
    '<use href="javascript:alert(1)"/>': "href in <use>: javascript",
    '<use href="data:image/svg+xml,x#a"/>': "href in <use>: data:",
    '<path fill="url(https://example.org/a)"/>': "fill in <path>: url(https",
    '<path fill="url(#a) url(//example.org/a)"/>': "fill in <path>",
    '<path fill="URL(x)"/>': "fill in <path>",
    r'<path fill="u\72l(x)"/>': "fill in <path>",
    '<path style="fill:url(https://example.org/a)"/>': "style in <path>: fill:url(https",
    '<path style="background:red"/>': "style in <path>",
    '<path style="fill:image-set(x)"/>': "style in <path>",
    r'<path style="fill:\75rl(x)"/>': "style in <path>",
    '<path style="fill:red;/**/x"/>': "style in <path>",
    '<g xml:base="https://example.org/"/>': "base in <g>",
    '<path src="x"/>': "src in <path>",
    '<path d="M0 0" filter="url(#f)"/>': "filter in <path>",
    '<path requiredExtensions="x"/>': "requiredExtensions in <path>",
    '<?xml-stylesheet href="https://example.org/a.css"?>': "<?xml-stylesheet?>",
    "<g>" * MAX_LEVELS + "</g>" * MAX_LEVELS: f"more than {MAX_LEVELS} elements",
}


@pytest.mark.parametrize(("inner", "says"), ACTIVE.items(), ids=range(len(ACTIVE)))
def test_whatever_runs_loads_or_leads_out_is_refused_by_name_and_line(
    inner: str, says: str, tmp_path: Path
) -> None:
    with pytest.raises(BadInput) as refused:
        read(tmp_path, inner)
    assert f"drawing drawing.svg contains {says}" in refused.value.what.replace(
        "the instruction ", ""
    )
    assert "(line 2)" in refused.value.what and refused.value.todo


@pytest.mark.parametrize(
    "before",
    [
        '<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>',
        '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>',
        '<!DOCTYPE svg SYSTEM "https://example.org/a.dtd">',
        '<!DOCTYPE svg [<!ATTLIST g onload CDATA "1">]>',
    ],
)
def test_document_type_is_refused_before_it_declares_anything(before: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="contains a document type"):
        read(tmp_path, "<g/>", before=before)


def test_repeated_pieces_may_not_double_each_other(tmp_path: Path) -> None:
    steps = "".join(
        f'<g id="s{n}"><use href="#s{n + 1}"/><use href="#s{n + 1}"/></g>' for n in range(30)
    )
    with pytest.raises(BadInput, match="repeats 's"):
        read(tmp_path, f'{steps}<g id="s30"><path/></g>')
    with pytest.raises(BadInput, match="repeats 'loop'"):
        read(tmp_path, '<g id="loop"><use href="#loop"/></g>')


def test_repeated_pieces_are_few_and_of_this_drawing(tmp_path: Path) -> None:
    """Ten thousand shapes, three thousand times, fit into a drawing's 128 kB."""
    piece = f'<g id="a">{"<path/>" * 100}</g>'
    read(tmp_path, piece + '<use href="#a"/>' * 49)
    with pytest.raises(BadInput, match="draws 5050 elements with <use>; at most 5000"):
        read(tmp_path, piece + '<use href="#a"/>' * 50)
    with pytest.raises(BadInput, match="repeats 'b', which it has not"):
        read(tmp_path, piece + '<use href="#b"/>')


@pytest.mark.parametrize("inner", ["<g>", "&unknown;", "<g x:y='1'/>", "<g id='a' id='b'/>"])
def test_broken_drawing_is_refused(inner: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="not well-formed"):
        read(tmp_path, inner)


def test_other_files_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "page.svg"
    for content, says in {
        b"<html/>": "not an SVG",
        b"<svg/>": "without the namespace of SVG",
        b"\xff\xfe<\0s\0": "not a UTF-8 text",
        b"": "not well-formed",
    }.items():
        path.write_bytes(content)
        with pytest.raises(BadInput, match=says):
            read_drawing_ids(path)


def test_drawing_for_a_phone_has_an_end(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="larger than"):
        read(tmp_path, f"<!--{'x' * MAX_DRAWING_BYTES}-->")


def test_lists_hold_nothing_that_acts() -> None:
    """A slip while adding to them is found here, by names that browsers act on."""
    acting = "script style image a iframe foreignObject animate set audio video canvas link base"
    assert not ELEMENTS & set(acting.split())
    assert not {name for name in ATTRIBUTES if name.lower().startswith("on")}
    assert not {"src", "action", "data", "filter", "mask", "base", "target"} & ATTRIBUTES
