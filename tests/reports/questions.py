"""QUESTIONS.md as data, and the walk along a path of clicks."""

import re
from dataclasses import dataclass
from pathlib import Path

from tests.reports.seen_page import Node, clean, parse_page

FILE = Path(__file__).with_name("QUESTIONS.md")
NONE = "(none)"
# What `#` and `…` of an answer stand for; a number ends where its digits end.
WILD = {"#": r"[+\u2212]?\d[\d.,\u202f-]*(?!\d)", "…": r".{0,400}?"}


@dataclass(frozen=True)
class Question:
    """One row. clicks: the names to click, in order."""

    person: str
    words: str
    clicks: tuple[str, ...]
    answer: str


@dataclass(frozen=True)
class Seen:
    """A page with what was clicked open on it."""

    page: Node
    unfolded: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        (main,) = self.page.find_all("main")
        return main.read(self.unfolded)


def read_questions() -> list[Question]:
    """Every row of every table, under the heading that names its person."""
    found: list[Question] = []
    person = ""
    for line in FILE.read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            person = line.removeprefix("## ").strip()
        elif line.startswith("|") and not line.startswith(("|---", "| question")):
            words, path, answer = (cell.strip() for cell in line.strip("|").split("|"))
            clicks = () if path == NONE else tuple(clean(name) for name in path.split(">"))
            found.append(Question(person, words, clicks, answer))
    return found


def walk(client, start: str, clicks: tuple[str, ...]) -> Seen:
    """What is seen after the clicks. Raises AssertionError for a name that is not there."""
    seen = Seen(_get(client, start))
    for name in clicks:
        address = _find_address(seen.page, name)
        if address:
            seen = Seen(_get(client, address))
        else:
            folds = [fold.read() for fold in seen.page.find_all("summary")]
            assert any(name in fold for fold in folds), f"nothing to click is named {name!r}"
            seen = Seen(seen.page, (*seen.unfolded, name))
    return seen


def _get(client, address: str) -> Node:
    answer = client.get(address)
    assert answer.status_code == 200, (address, answer.status_code)
    return parse_page(answer.text)


def _find_address(page: Node, name: str) -> str | None:
    """Of the link with exactly this name, or else of the first whose name has it."""
    links = page.list_links()
    named = [address for words, address in links if words == name]
    named += [address for words, address in links if name in words]
    return next(iter(named), None)


def has_answer(seen: Seen, answer: str) -> bool:
    """Blanks count for nothing: a tag between two words may stand for one or for none."""
    parts = re.split(r"([#…]|\s+|\d+)", answer)
    return re.search("".join(map(_write_pattern, parts)), seen.text) is not None


def _write_pattern(part: str) -> str:
    if part.isspace():
        return r"\s*"
    if part.isdigit():
        return rf"(?<!\d){part}(?!\d)"
    return WILD.get(part) or re.escape(part)
