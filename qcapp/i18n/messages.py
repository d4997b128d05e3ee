"""Sentences that are stored: which one and what is filled in, worded only when somebody reads them.

Each room declares its own beside the code that uses them:

    REASONS = MessageTable()
    UNKNOWN_BATCH = REASONS.sentence("unknown_batch", "unknown batch: %(batch)s")

    UNKNOWN_BATCH(batch="B9").to_json()    {"code": "unknown_batch", "params": {"batch": "B9"}}
    REASONS.word(UNKNOWN_BATCH(batch="B9"))    phrase("unknown batch: %(batch)s", batch="B9")

A sentence may be reworded at any time; its code and its params are for ever.
"""

import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from qcapp.i18n.localized_text import join
from qcapp.i18n.phrase import Phrase

# How a param is worded that is no number or name: its words by code, or a function that gives them.
Wording = Mapping[str, str] | Callable[[Any], Any]
PLACE = re.compile(r"%\((\w+)\)")


@dataclass(frozen=True)
class Message:
    """A sentence as data. params: JSON without fractions; a message inside one is as to_json gives
    it.
    """

    code: str
    params: Mapping[str, Any] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        return {"code": self.code, "params": dict(self.params)}

    def to_text(self) -> str:
        """Canonical: the same message is always the same text."""
        return json.dumps(self.to_json(), sort_keys=True, separators=(",", ":"), ensure_ascii=False)

    @classmethod
    def from_json(cls, stored: Any) -> "Message":
        """What is no message becomes one of an unknown code, so that it can still be shown."""
        if is_message(stored):
            return cls(stored["code"], stored["params"])
        return cls("unreadable", {"stored": stored})

    @classmethod
    def from_text(cls, stored: str) -> "Message":
        try:
            return cls.from_json(json.loads(stored))
        except ValueError:
            return cls.from_json(stored)


@dataclass(frozen=True)
class Sentence:
    """One entry of a table; called with params it gives the message. one, many: as in Phrase."""

    code: str
    one: str
    many: str | None
    wording: Mapping[str, Wording]

    def __call__(self, **params: Any) -> Message:
        plain = {name: _as_json(value) for name, value in params.items()}
        missing = self.places - plain.keys()
        if missing:
            raise TypeError(f"{self.code} needs {', '.join(sorted(missing))}")
        return Message(self.code, plain)

    @property
    def places(self) -> frozenset[str]:
        """What its words need; the code may give more."""
        return frozenset(PLACE.findall(self.one + (self.many or "")))


class MessageTable:
    """The sentences that a room stores, by code. others: tables whose sentences it has too."""

    def __init__(self, *others: "MessageTable") -> None:
        self._sentences: dict[str, Sentence] = {}
        for sentence in (one for other in others for one in other):
            self._add(sentence)

    def __iter__(self) -> Iterator[Sentence]:
        return iter(self._sentences.values())

    def __contains__(self, code: object) -> bool:
        return code in self._sentences

    def sentence(self, code: str, pattern: str, **wording: Wording) -> Sentence:
        return self._add(Sentence(code, pattern, None, wording))

    def sentence_n(self, code: str, one: str, many: str, **wording: Wording) -> Sentence:
        """The param n chooses the form."""
        return self._add(Sentence(code, one, many, wording))

    def _add(self, sentence: Sentence) -> Sentence:
        if sentence.code in self._sentences:
            raise ValueError(f"two sentences have the code {sentence.code}")
        self._sentences[sentence.code] = sentence
        return sentence

    def word(self, message: Message) -> Phrase:
        """In words of the reader's language; an unknown code as it stands, with its params."""
        sentence = self._sentences.get(message.code)
        if sentence is None:
            return _spell_out(message)
        try:
            filled = {
                name: self._fill(value, sentence.wording.get(name))
                for name, value in message.params.items()
            }
            n = 1 if sentence.many is None else _check_count(message.params["n"])
            return Phrase(sentence.one, filled, sentence.many, n)
        except (AttributeError, KeyError, TypeError, ValueError):
            # Written by another version, with other params.
            return _spell_out(message)

    def word_json(self, stored: Any) -> Phrase:
        return self.word(Message.from_json(stored))

    def _fill(self, value: Any, wording: Wording | None) -> Any:
        if isinstance(value, list):
            return [self._fill(part, wording) for part in value]
        if is_message(value):
            return self.word_json(value)
        if wording is None:
            return value
        return wording.get(value, value) if isinstance(wording, Mapping) else wording(value)


def is_message(stored: Any) -> bool:
    return (
        isinstance(stored, Mapping)
        and stored.keys() == {"code", "params"}
        and isinstance(stored["code"], str)
        and isinstance(stored["params"], Mapping)
    )


def _as_json(value: Any) -> Any:
    if isinstance(value, Message):
        return value.to_json()
    if isinstance(value, list | tuple):
        return [_as_json(part) for part in value]
    # Not isinstance: words of one language are a kind of text too, and must never be stored.
    if value is None or type(value) in (str, int, bool):
        return value
    raise TypeError(f"{type(value).__name__} cannot be stored in a message")


def _check_count(n: Any) -> int:
    if type(n) is not int:
        raise TypeError(f"{n!r} is no count")
    return n


def _spell_out(message: Message) -> Phrase:
    params = ", ".join(
        f"{name}={json.dumps(value, ensure_ascii=False)}" for name, value in message.params.items()
    )
    return join("", [f"{message.code}: {params}" if params else message.code])
