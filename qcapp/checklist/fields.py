"""Typed reading of one YAML mapping: each wrong or unknown key becomes a problem, reading goes on.

A method gives None where it had to report a problem (or where an optional key is absent).
"""

import re
from collections.abc import Iterable
from decimal import Decimal
from difflib import get_close_matches

from qcapp.checklist.frozen_model import ID_PATTERN
from qcapp.checklist.source import Node, Problems
from qcapp.i18n.phrase import phrase

LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*")


def suggest(word: str, known: Iterable[str]) -> str:
    """A todo for a word that is not known."""
    choices = sorted(known)
    close = get_close_matches(word, choices, n=1)
    return (
        phrase("did you mean '%(word)s'?", word=close[0])
        if close
        else phrase("known here: %(choices)s", choices=choices or phrase("none"))
    )


def _describe_value(value: object) -> str:
    """A scalar as it reads in a message; a nested value has no short form."""
    return phrase("nested keys") if isinstance(value, dict | list) else str(value)


def json_number(number: Decimal) -> int | float:
    """Whole numbers become int, so that Python and JavaScript write the same JSON."""
    return int(number) if number == number.to_integral_value() else float(number)


class Fields:
    """The keys of one mapping; call finish() last to report those nobody asked for."""

    def __init__(self, node: Node, problems: Problems) -> None:
        self.node, self.problems = node, problems
        self.asked: set[str] = set()
        self.children: dict[str, Node] = node.value if isinstance(node.value, dict) else {}
        if not isinstance(node.value, dict):
            problems.add(
                node,
                phrase("keys with values are expected"),
                phrase("write key: value pairs, or {key: value}"),
            )

    def finish(self) -> None:
        for name, child in self.children.items():
            if name not in self.asked:
                self.problems.add(
                    child, phrase("unknown key '%(name)s'", name=name), suggest(name, self.asked)
                )

    def find(self, name: str, required: bool = True) -> Node | None:
        self.asked.add(name)
        child = self.children.get(name)
        if child is not None and child.value is not None:
            return child
        if child is not None:
            self.problems.add(child, phrase("empty"), phrase("give a value or remove the key"))
        elif required and isinstance(self.node.value, dict):
            self.problems.add(
                self.node, phrase("missing"), phrase("add %(name)s:", name=name), name
            )
        return None

    def text(self, name: str, required: bool = True) -> str | None:
        child = self.find(name, required)
        return self._as_text(child) if child else None

    def _as_text(self, node: Node) -> str | None:
        if not isinstance(node.value, str):
            self.problems.add(node, phrase("text is expected"), phrase("put it in quotes"))
            return None
        text = " ".join(node.value.split())
        if not text:
            self.problems.add(node, phrase("empty text"), phrase("write something"))
        return text or None

    def id(self, name: str = "id") -> str | None:
        child = self.find(name)
        return self.as_id(child) if child else None

    def as_id(self, node: Node) -> str | None:
        if (
            isinstance(node.value, str)
            and re.fullmatch(ID_PATTERN, node.value)
            and len(node.value) <= 60
        ):
            return node.value
        self.problems.add(
            node,
            phrase("not an id in small letters with hyphens"),
            phrase("use small letters, digits and single hyphens, such as door-opening"),
        )
        return None

    def picture(self) -> str | None:
        """The name of a picture; whether there is one is seen beside its folder."""
        child = self.find("picture", required=False)
        return self.as_id(child) if child else None

    def one_of(self, name: str, known: Iterable[str], required: bool = True) -> str | None:
        child = self.find(name, required)
        if child is None:
            return None
        if isinstance(child.value, str) and child.value in known:
            return child.value
        self.problems.add(
            child,
            phrase("'%(value)s' is not known", value=_describe_value(child.value)),
            suggest(_describe_value(child.value), known),
        )
        return None

    def number(self, name: str, required: bool = True) -> Decimal | None:
        child = self.find(name, required)
        if child is None:
            return None
        if isinstance(child.value, Decimal):
            return child.value
        self.problems.add(
            child,
            phrase("a plain number is expected"),
            phrase("write it like 12 or 0.5, without quotes or unit"),
        )
        return None

    def whole(self, name: str, minimum: int) -> int | None:
        number = self.number(name)
        if number is None:
            return None
        if number != number.to_integral_value() or number < minimum:
            self.problems.add(
                self.children[name],
                phrase("a whole number of %(least)s or more is expected", least=minimum),
                phrase("write %(least)s or more", least=minimum),
            )
            return None
        return int(number)

    def words(self, name: str, required: bool = True) -> dict[str, str] | None:
        """Localised text: {language: text} with en."""
        child = self.find(name, required)
        return self.as_words(child) if child else None

    def as_words(self, node: Node) -> dict[str, str] | None:
        if not isinstance(node.value, dict):
            self.problems.add(
                node, phrase("text by language is expected"), phrase("write {en: ...}")
            )
            return None
        for language, child in node.value.items():
            if not LANGUAGE.fullmatch(language):
                self.problems.add(
                    child,
                    phrase("'%(language)s' is not a language code", language=language),
                    phrase("write a code such as en, fr or sw"),
                )
        if "en" not in node.value:
            self.problems.add(node, phrase("English text is missing"), phrase("add en:"), "en")
        texts = {language: self._as_text(child) for language, child in node.value.items()}
        return {language: text for language, text in texts.items() if text}

    def items(self, name: str, required: bool = True) -> list[Node]:
        """The nodes of a list; an empty required list is a problem."""
        child = self.find(name, required)
        if child is None:
            return []
        if not isinstance(child.value, list):
            self.problems.add(
                child, phrase("a list is expected"), phrase("write - item lines, or [item, item]")
            )
            return []
        if required and not child.value:
            self.problems.add(child, phrase("the list is empty"), phrase("add at least one"))
        return child.value
