"""An SVG is accepted only when all of it is on a list: shapes, groups and text, nothing that runs,
moves, loads or links to anything outside.

The phone and the pages put drawings into themselves, so a forbidden list would have to know every
element of every namespace that a browser acts on (an HTML <meta> inside an SVG reloads the page).
The parser is expat, which reads elements with their namespaces; a document type is refused before
it can declare an entity.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any
from xml.parsers import expat

from qcapp.checklist.svg_elements import Elements, refuse_growth
from qcapp.errors import BadInput
from qcapp.i18n.phrase import Phrase, phrase

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
XML = "http://www.w3.org/XML/1998/namespace"
MAX_LEVELS = 50
# What stands in these is text: a page reads an element there by other rules.
WORDS_ALONE = ("title", "desc")
# Expat puts it between namespace and name; it cannot stand in either.
SEPARATOR = " "

_ELEMENTS = (
    "svg g defs symbol use title desc text tspan path rect circle ellipse line polyline "
    "polygon clipPath linearGradient radialGradient stop"
)
ELEMENTS = frozenset(_ELEMENTS.split())
_PRESENTATION = (
    "clip-path clip-rule color display dominant-baseline fill fill-opacity fill-rule "
    "font-family font-size font-style font-weight letter-spacing opacity paint-order "
    "pointer-events shape-rendering stop-color stop-opacity stroke stroke-dasharray "
    "stroke-dashoffset stroke-linecap stroke-linejoin stroke-miterlimit stroke-opacity "
    "stroke-width text-anchor transform vector-effect visibility"
)
PRESENTATION = frozenset(_PRESENTATION.split())
_OTHER_ATTRIBUTES = (
    "aria-hidden aria-label class clipPathUnits cx cy d dx dy fr fx fy gradientTransform "
    "gradientUnits height href id lang offset points preserveAspectRatio r role rotate rx ry "
    "spreadMethod style textLength lengthAdjust version viewBox width x x1 x2 y y1 y2"
)
ATTRIBUTES = PRESENTATION | frozenset(_OTHER_ATTRIBUTES.split())
# Attributes of other namespaces, by namespace.
FOREIGN_ATTRIBUTES: Mapping[str, frozenset[str]] = {
    XLINK: frozenset(("href",)),
    XML: frozenset(("lang", "space")),
}
LINK_INSIDE = re.compile(r"#[\w.-]+", re.ASCII)
URL_INSIDE = re.compile(r"url\(\s*(['\"]?)#[\w.-]+\1\s*\)", re.ASCII)
# What begins an escape, a rule or a comment in a style.
NOT_IN_VALUE = re.compile(r"[\\@<&]|/\*")
FUNCTION_NAME = re.compile(r"([^\s(),;]*)\s*\(")
_FUNCTIONS = "translate rotate scale matrix skewX skewY rgb rgba hsl hsla"
FUNCTIONS = frozenset(_FUNCTIONS.split())

REMOVE = phrase("remove it; nothing may run or load from elsewhere")
# (what was found, what to do) -> the error, with its line.
Refuse = Callable[[Phrase, Phrase], BadInput]


def read_svg_ids(source: str, name: Phrase) -> set[str]:
    """All ids in an SVG text. name: what it is called in errors.

    Raises BadInput, which names the element or attribute, its line and what to do.
    """
    reader = _Reader(name)
    try:
        reader.parser.Parse(source, True)
    except (expat.ExpatError, ValueError) as error:
        raise BadInput(
            phrase("%(name)s is not well-formed SVG: %(error)s", name=name, error=error),
            name,
            phrase("export it again as plain SVG"),
        ) from error
    refuse_growth(reader.seen, name)
    return set(reader.seen.sizes)


class _Reader:
    """What expat calls for each thing that it finds; what is not on the list is refused at once."""

    def __init__(self, name: Phrase) -> None:
        self.name = name
        self.seen = Elements()
        self.parser = expat.ParserCreate("utf-8", SEPARATOR)
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.open_element
        self.parser.CommentHandler = self.refuse_odd_comment
        self.parser.StartCdataSectionHandler = self.refuse_cdata
        self.parser.EndElementHandler = self.close_element
        self.parser.StartDoctypeDeclHandler = self.refuse_doctype
        self.parser.ProcessingInstructionHandler = self.refuse_instruction

    def refuse(self, what: Phrase, todo: Phrase) -> BadInput:
        name, line = self.name, str(self.parser.CurrentLineNumber)
        return BadInput(
            phrase("%(name)s contains %(what)s (line %(line)s)", name=name, what=what, line=line),
            name,
            todo,
        )

    def open_element(self, tag: str, attributes: dict[str, str]) -> None:
        namespace, _, local = tag.rpartition(SEPARATOR)
        self.refuse_odd_element(namespace, local)
        for attribute, value in attributes.items():
            _check_attribute(local, attribute, value, self.refuse)
        self.seen.enter(local, attributes.get("id"))
        if local == "use":
            link = attributes.get("href") or attributes.get(f"{XLINK}{SEPARATOR}href", "")
            self.seen.repeat(link.removeprefix("#"))

    def close_element(self, _tag: str) -> None:
        self.seen.close()

    def refuse_odd_element(self, namespace: str, local: str) -> None:
        outer = self.seen.open
        if not outer and (local != "svg" or namespace not in ("", SVG)):
            raise BadInput(
                phrase("%(name)s is not an SVG file", name=self.name),
                self.name,
                phrase("export it as plain SVG"),
            )
        if namespace != SVG or local not in ELEMENTS:
            todo = phrase("use only shapes, groups and text")
            raise self.refuse(_name_element(namespace, local), todo)
        if outer and outer[-1].tag in WORDS_ALONE:
            what = phrase("<%(tag)s> inside <%(outer)s>", tag=local, outer=outer[-1].tag)
            raise self.refuse(what, REMOVE)
        if len(outer) == MAX_LEVELS:
            raise self.refuse(
                phrase("more than %(most)s elements inside each other", most=MAX_LEVELS),
                phrase("ungroup what is grouped several times"),
            )

    def refuse_doctype(self, *_about: Any) -> None:
        todo = phrase("remove it, with the entities it declares")
        raise self.refuse(phrase("a document type"), todo)

    def refuse_instruction(self, target: str, _data: str) -> None:
        raise self.refuse(phrase("the instruction <?%(target)s?>", target=target), REMOVE)

    def refuse_odd_comment(self, text: str) -> None:
        # A page that reads it as HTML ends it at once and takes the rest for elements.
        if text.startswith((">", "->")):
            raise self.refuse(phrase("a comment that begins with >"), REMOVE)

    def refuse_cdata(self) -> None:
        # Not every place of a page knows these: what is in one would be elements there.
        raise self.refuse(phrase("a CDATA section"), phrase("write the text without it"))


def _name_element(namespace: str, local: str) -> Phrase:
    if namespace == SVG:
        return phrase("<%(tag)s>", tag=local)
    if not namespace:
        return phrase("<%(tag)s> without the namespace of SVG", tag=local)
    return phrase("<%(tag)s> of the namespace %(other)s", tag=local, other=namespace[:80])


def _check_attribute(element: str, attribute: str, value: str, refuse: Refuse) -> None:
    namespace, _, local = attribute.rpartition(SEPARATOR)
    known = FOREIGN_ATTRIBUTES.get(namespace, frozenset()) if namespace else ATTRIBUTES
    where = phrase("%(attribute)s in <%(tag)s>", attribute=local, tag=element)
    if local not in known:
        raise refuse(where, REMOVE)
    if local == "href":
        is_fine = bool(LINK_INSIDE.fullmatch(value))
    elif local == "style":
        is_fine = all(map(_is_plain_declaration, value.split(";")))
    elif local in PRESENTATION:
        is_fine = _is_plain_value(value)
    else:
        is_fine = True
    if not is_fine:
        raise refuse(
            phrase("%(where)s: %(value)s", where=where, value=value[:60]),
            phrase("let it name only what is inside the drawing (#id)"),
        )


def _is_plain_declaration(declaration: str) -> bool:
    """One of the properties that may stand as an attribute too; or nothing, after the last ;."""
    prop, _, value = declaration.partition(":")
    if not declaration.strip():
        return True
    return prop.strip() in PRESENTATION and _is_plain_value(value)


def _is_plain_value(value: str) -> bool:
    rest = URL_INSIDE.sub("", value)
    return not NOT_IN_VALUE.search(rest) and set(FUNCTION_NAME.findall(rest)) <= FUNCTIONS
