"""The charts of a page as they are sent: what each draws, names and has behind it."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from tests.reports.seen_page import Node, clean, parse_page

# What helps the eye and is no mark: axes, what the text stands on, the words themselves.
HELPS = frozenset(("axis", "grid", "halo"))
MARKS = frozenset(("path", "rect", "circle"))
# A finding has a figure in it, or says that there is none.
FINDING = re.compile(r"\d|\b(no|nobody|nothing|none)\b", re.IGNORECASE)


@dataclass(frozen=True)
class SeenChart:
    """title: as it is read aloud; drawn, named: classes of the marks in the picture and in its
    legend; units: words of its axes.
    """

    title: str
    drawn: frozenset[str]
    named: frozenset[str]
    units: tuple[str, ...]


def list_charts(html: str) -> Iterator[SeenChart]:
    """Of one page; the dots in a table's rows are one chart, whose legend is the table's head."""
    page = parse_page(html)
    pictures = [one for one in page.find_all("svg") if "chart" in classes_of(one)]
    for svg in pictures:
        if "dots" not in classes_of(svg):
            title = " ".join(word for one in svg.find_all("title") for word in one.inside)
            legend = [one for one in svg.find_all("g") if "legend" in classes_of(one)]
            named = frozenset(kind for one in legend for kind in list_marks(one))
            yield SeenChart(clean(title), list_marks(svg, legend), named, list_units(svg))
    for table in page.find_all("table"):
        rows = [one for body in table.find_all("tbody") for one in body.find_all("svg")]
        dots = [one for one in rows if "dots" in classes_of(one)]
        if dots:
            (head,) = (svg for part in table.find_all("thead") for svg in part.find_all("svg"))
            (section,) = (one for one in page.find_all("section") if table in one.find_all("table"))
            (heading,) = section.find_all("h2")
            drawn = frozenset(kind for one in dots for kind in list_marks(one))
            yield SeenChart(heading.read(), drawn, list_marks(head), list_units(head))


def classes_of(node: Node) -> list[str]:
    return node.attributes.get("class", "").split()


def list_marks(node: Node, without: list[Node] = ()) -> frozenset[str]:
    """Classes of what is drawn in it, but for what is under `without`."""
    left_out = {id(one) for part in without for tag in MARKS for one in part.find_all(tag)}
    return frozenset(
        one.attributes.get("class", "")
        for tag in MARKS
        for one in node.find_all(tag)
        if id(one) not in left_out and not HELPS & set(classes_of(one))
    )


def list_units(node: Node) -> tuple[str, ...]:
    return tuple(one.read() for one in node.find_all("text") if "unit" in classes_of(one))


def list_tables(html: str) -> set[str]:
    """Names of the tables that have a row."""
    return {
        one.attributes["aria-label"]
        for one in parse_page(html).find_all("div")
        if "aria-label" in one.attributes
        and any(list(body.find_all("tr")) for body in one.find_all("tbody"))
    }
