"""A page as a person sees it: what can be clicked, and what can be read without unfolding it."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

# They end where they begin.
VOID = frozenset(("area", "base", "br", "col", "hr", "img", "input", "link", "meta", "wbr"))
NOT_READ = frozenset(("script", "style", "noscript", "template", "select", "title", "desc"))


@dataclass
class Node:
    """An element; what is in it, in order: words or elements."""

    tag: str
    attributes: dict[str, str] = field(default_factory=dict)
    inside: list["Node | str"] = field(default_factory=list)

    def find_all(self, tag: str) -> Iterator["Node"]:
        for one in self.inside:
            if isinstance(one, Node):
                if one.tag == tag:
                    yield one
                yield from one.find_all(tag)

    def read(self, unfolded: Collection[str] = ()) -> str:
        """What can be read in it. unfolded: names of what was clicked open."""
        return clean(" ".join(self._list_words(unfolded)))

    def _list_words(self, unfolded: Collection[str]) -> Iterator[str]:
        for one in self.inside:
            if isinstance(one, str):
                yield one
            elif one.tag not in NOT_READ and self._shows(one, unfolded):
                yield from one._list_words(unfolded)

    def _shows(self, one: "Node", unfolded: Collection[str]) -> bool:
        if self.tag != "details" or "open" in self.attributes or one.tag == "summary":
            return True
        named = " ".join(fold.read() for fold in self.find_all("summary"))
        return any(name in named for name in unfolded)

    def list_links(self) -> list[tuple[str, str]]:
        """(name, address) of every link, by the name that is read aloud."""
        return [
            (one.attributes.get("aria-label") or one.read(), one.attributes.get("href", ""))
            for one in self.find_all("a")
        ]


class _Builder(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open = [Node("page")]

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        node = Node(tag, {name: value or "" for name, value in attributes})
        self.open[-1].inside.append(node)
        if tag not in VOID:
            self.open.append(node)

    def handle_startendtag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        """A drawing's element that ends where it begins."""
        self.open[-1].inside.append(Node(tag, {name: value or "" for name, value in attributes}))

    def handle_endtag(self, tag: str) -> None:
        if tag in (one.tag for one in self.open[1:]):
            while self.open.pop().tag != tag:
                pass

    def handle_data(self, words: str) -> None:
        self.open[-1].inside.append(words)


def parse_page(html: str) -> Node:
    builder = _Builder()
    builder.feed(html)
    return builder.open[0]


def clean(text: str) -> str:
    return " ".join(text.split())
