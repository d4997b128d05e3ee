"""The YAML text as a tree of nodes that know their line and key, with every scalar read by our own
grammar.

YAML itself would turn `no` into false, `012` into 10 and `1:30` into 90. Here a plain scalar is
true, false, empty, a JSON-like number, or text; a quoted one is always text.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TypeAlias

import yaml

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

DEEPEST_NESTING = 20
LONGEST_FILE = 500_000  # bytes; the longest of ours has 16,000
# The C parser where PyYAML was built with it: sixteen times as fast, and a check of the editor
# reads every checklist.
LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
TOO_DEEP = (phrase("nested too deeply"), phrase("close the brackets before this line"))
NUMBER = re.compile(r"-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?")

Value: TypeAlias = "str | Decimal | bool | dict[str, Node] | list[Node] | None"


@dataclass(frozen=True)
class ChecklistError:
    """One thing to mend: line counts from 1, key is the path such as checks.door-fit.ask."""

    file: str
    line: int
    key: str
    what: str
    todo: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.key}: {self.what}; {self.todo}"


class ChecklistErrors(BadInput):
    """A checklist file is refused; `errors` holds every reason in line order."""

    def __init__(self, errors: list[ChecklistError]) -> None:
        self.errors = errors
        first = errors[0]
        more = f" (and {len(errors) - 1} more)" if len(errors) > 1 else ""
        super().__init__(first.what + more, f"{first.file}:{first.line} {first.key}", first.todo)


@dataclass(frozen=True)
class Node:
    """value: text, Decimal, bool, None, {key: Node} or [Node]."""

    line: int
    key: str
    value: Value


TOP = Node(1, "", None)


class Problems:
    """Collects what is wrong, so that one run tells all of it."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.errors: list[ChecklistError] = []

    def add(self, node: Node, what: str, todo: str, key: str = "") -> None:
        """key: a child of the node that is meant but not there."""
        place = ".".join(part for part in (node.key, key) if part)
        error = ChecklistError(self.file, node.line, place or "file", what, todo)
        # One entry for `all` sizes is read once for each of them.
        if error not in self.errors:
            self.errors.append(error)

    def listed(self) -> list[ChecklistError]:
        return sorted(self.errors, key=lambda error: error.line)


def read_source(path: Path, problems: Problems) -> Node | None:
    """The file's root node, or None when it is no YAML mapping; problems get the reason."""
    try:
        if path.stat().st_size > LONGEST_FILE:
            _refuse_long(problems)
            return None
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        problems.add(
            TOP, phrase("cannot be read: %(error)s", error=error), phrase("give a UTF-8 text file")
        )
        return None
    return parse_source(text, problems)


def parse_source(text: str, problems: Problems) -> Node | None:
    """The same for a text that is in hand already, such as one typed into a page."""
    if len(text) > LONGEST_FILE:
        _refuse_long(problems)
        return None
    try:
        if _refuse_references(text, problems):
            return None
        root = yaml.compose(text, Loader=LOADER)
    except (yaml.YAMLError, RecursionError) as error:
        _refuse_broken(error, problems)
        return None
    if not isinstance(root, yaml.MappingNode):
        problems.add(
            TOP, phrase("not a list of keys with values"), phrase("start with id: and revision:")
        )
        return None
    return _build_node(root, "", problems)


def _refuse_long(problems: Problems) -> None:
    problems.add(
        TOP,
        phrase("larger than %(longest_file)s bytes", longest_file=LONGEST_FILE),
        phrase("split it by stage"),
    )


def _refuse_broken(error: yaml.YAMLError | RecursionError, problems: Problems) -> None:
    """At the line where the parser stopped, where it says which."""
    if not isinstance(error, yaml.MarkedYAMLError):
        problems.add(
            TOP,
            phrase("not YAML: %(error)s", error=str(error).splitlines()[0]),
            phrase("save it as plain UTF-8 text"),
        )
    elif "nesting depth" in (error.problem or ""):
        # The C parser reads ahead, and stops by itself far beyond our own limit.
        problems.add(TOP, *TOO_DEEP)
    else:
        mark = error.problem_mark or error.context_mark
        problems.add(
            Node(mark.line + 1 if mark else 1, "", None),
            phrase("not YAML: %(problem)s", problem=error.problem),
            phrase("correct this line or the one before it"),
        )


def _refuse_references(text: str, problems: Problems) -> bool:
    """Anchors, aliases and tags hide where a value comes from, and can make it endless."""
    before, depth = len(problems.errors), 0
    for event in yaml.parse(text, Loader=LOADER):
        node = Node(event.start_mark.line + 1 if event.start_mark else 1, "", None)
        depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(
            event, yaml.CollectionEndEvent
        )
        if depth > DEEPEST_NESTING:
            # Stop here: the parser's own time grows with the square of the depth.
            problems.add(node, *TOO_DEEP)
            return True
        if getattr(event, "anchor", None):
            problems.add(
                node,
                phrase("anchors (&) and aliases (*) are not used here"),
                phrase("write the value in full"),
            )
        if getattr(event, "tag", None):
            problems.add(
                node,
                phrase("tags (!) are not used here"),
                phrase("remove the tag; quote what is text"),
            )
    return len(problems.errors) > before


def _build_node(raw: yaml.Node, key: str, problems: Problems) -> Node:
    line = raw.start_mark.line + 1
    if isinstance(raw, yaml.MappingNode):
        return Node(line, key, _build_mapping(raw, key, problems))
    if isinstance(raw, yaml.SequenceNode):
        items = [
            _build_node(item, f"{key}.{_item_name(item, place)}", problems)
            for place, item in enumerate(raw.value)
        ]
        return Node(line, key, items)
    return Node(line, key, _read_scalar(raw))


def _build_mapping(raw: yaml.MappingNode, key: str, problems: Problems) -> "dict[str, Node]":
    built: dict[str, Node] = {}
    for raw_key, raw_value in raw.value:
        line = raw_key.start_mark.line + 1
        if not isinstance(raw_key, yaml.ScalarNode):
            problems.add(
                Node(line, key, None),
                phrase("a key is not a plain word"),
                phrase("write key: value"),
            )
            continue
        name = raw_key.value
        child = _build_node(raw_value, f"{key}.{name}" if key else name, problems)
        if name in built:
            problems.add(
                Node(line, child.key, None),
                phrase("this key appears twice"),
                phrase("keep one; the first is on line %(line)s", line=built[name].line),
            )
            continue
        # A block's own mark is its first inner line; a person looks for the key.
        built[name] = Node(line, child.key, child.value)
    return built


def _item_name(raw: yaml.Node, place: int) -> str:
    """The id of a list item where it has one, so that a key names the check and not its place."""
    if isinstance(raw, yaml.MappingNode):
        for raw_key, raw_value in raw.value:
            if raw_key.value == "id" and isinstance(raw_value, yaml.ScalarNode) and raw_value.value:
                return str(raw_value.value)
    return str(place + 1)


def _read_scalar(raw: yaml.Node) -> str | Decimal | bool | None:
    text = str(raw.value)
    # A plain one has no style: "" by the C parser, None by the other.
    if not isinstance(raw, yaml.ScalarNode) or raw.style:
        return text
    if text in ("", "null", "~"):
        return None
    if text in ("true", "false"):
        return text == "true"
    return Decimal(text) if NUMBER.fullmatch(text) else text
