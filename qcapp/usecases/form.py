"""What was typed on a page: it stays, and each field says what is wrong with it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field


@dataclass
class PageForm:
    """values: text by field; a ticked box is a field that is there. wrong: what is wrong and what
    to do, by field. file: what is in the file that came along.
    """

    values: Mapping[str, str] = field(default_factory=dict)
    wrong: dict[str, str] = field(default_factory=dict)
    file: bytes | None = None

    def get(self, name: str) -> str:
        return self.values.get(name, "").strip()

    def has(self, name: str) -> bool:
        return name in self.values

    def list_ticked(self, group: str) -> list[str]:
        """Of the fields group.x the x, in the order of the form."""
        return [
            name.removeprefix(f"{group}.") for name in self.values if name.startswith(f"{group}.")
        ]

    def refuse(self, name: str, text: str) -> None:
        """The first thing that is wrong with a field is told."""
        self.wrong.setdefault(name, text)

    def refuse_all(self, wrong: Mapping[str, str]) -> None:
        for name, text in wrong.items():
            self.refuse(name, text)


def tick(group: str, names: Iterable[str]) -> dict[str, str]:
    """Values of a form in which these boxes are ticked."""
    return {f"{group}.{name}": "on" for name in names}
