"""The guide's Markdown as HTML: headings with anchors, tables that scroll, links of the app.

HTML in a file is shown as text, and the library lets no link run a script.
"""

import re
import struct
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

from markdown_it import MarkdownIt
from markdown_it.renderer import RendererHTML
from markdown_it.token import Token
from markdown_it.utils import EnvType, OptionsDict

from qcapp.web.guide.files import INDEX

ADDRESS = "/guide"


@dataclass(frozen=True)
class GuidePage:
    """title: the first heading, which is not in html; sections: (anchor, title) of each h2;
    anchors: of every other heading.
    """

    title: str
    sections: tuple[tuple[str, str], ...]
    html: str
    anchors: tuple[str, ...]


def make_anchor(title: str) -> str:
    """As the places that show Markdown make them, so that a link to one works there too."""
    return re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-")


def find_address(target: str) -> str:
    """The app's address of what a file links to: buyer.md#a -> /guide/buyer#a."""
    file, mark, anchor = target.partition("#")
    if file.endswith(".md"):
        name = file.removesuffix(".md")
        file = ADDRESS if name == INDEX else f"{ADDRESS}/{name}"
    elif file.startswith("pictures/"):
        file = f"{ADDRESS}/{file}"
    return file + mark + anchor


def render_markdown(
    text: str, pictures: Mapping[str, bytes], anchors: Sequence[str] | None = None
) -> GuidePage:
    """text begins with the page's title as its first heading; pictures: PNG files by name.

    anchors: of a translation, those of the English headings in their order, so that a link to a
    heading leads there in every language. Raises ValueError where they are not as many.
    """
    heading, title, _end, *tokens = _PARSER.parse(text)
    if heading.tag != "h1":
        raise ValueError("a page of the guide begins with its title")
    titles = list(_mark_headings(tokens, anchors))
    for token in tokens:
        for part in token.children or ():
            _lead_into_app(part, pictures)
    html = _PARSER.renderer.render(list(_wrap_tables(tokens)), _PARSER.options, {})
    sections = tuple((anchor, words) for level, anchor, words in titles if level == "h2")
    return GuidePage(title.content, sections, html, tuple(anchor for _, anchor, _ in titles))


def _mark_headings(
    tokens: Sequence[Token], anchors: Sequence[str] | None
) -> Iterator[tuple[str, str, str]]:
    headings = [pair for pair in pairwise(tokens) if pair[0].type == "heading_open"]
    own = [make_anchor(content.content) for _token, content in headings]
    for (token, content), anchor in zip(headings, own if anchors is None else anchors, strict=True):
        token.attrSet("id", anchor)
        yield token.tag, anchor, content.content


def _lead_into_app(part: Token, pictures: Mapping[str, bytes]) -> None:
    if part.type == "link_open":
        part.attrSet("href", find_address(str(part.attrs["href"])))
    if part.type == "image":
        source = str(part.attrs["src"])
        width, height = _read_size(pictures[source.removeprefix("pictures/")])
        # With its size the text below does not jump when the picture has come.
        part.attrs.update(
            src=find_address(source), width=width, height=height, loading="lazy", decoding="async"
        )


def _read_size(png: bytes) -> tuple[int, int]:
    """Width and height stand at a fixed place of a PNG file."""
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def _wrap_tables(tokens: Sequence[Token]) -> Iterator[Token]:
    """Each table in a box that scrolls, which the keyboard reaches, named by the heading above."""
    heading, count = "", 0
    for token, following in zip(tokens, [*tokens[1:], None], strict=True):
        if token.type == "heading_open" and following:
            heading, count = following.content, 0
        if token.type == "th_open":
            token.attrSet("scope", "col")
        if token.type == "table_open":
            count += 1
            name = escape(heading if count == 1 else f"{heading}, table {count}")
            yield _raw(f'<div class="scroll" tabindex="0" role="region" aria-label="{name}">')
        yield token
        if token.type == "table_close":
            yield _raw("</div>")


def _raw(html: str) -> Token:
    return Token("html_block", "", 0, content=f"{html}\n")


def _render_fence(
    _renderer: RendererHTML,
    tokens: Sequence[Token],
    index: int,
    _options: OptionsDict,
    _env: EnvType,
) -> str:
    """A block of code scrolls too, so the keyboard must reach it."""
    return f'<pre tabindex="0"><code>{escape(tokens[index].content)}</code></pre>\n'


_PARSER = MarkdownIt("commonmark", {"html": False}).enable("table")
_PARSER.add_render_rule("fence", _render_fence)
