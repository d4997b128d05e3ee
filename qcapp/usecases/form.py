"""Forms that come back with all that was typed when something in them is wrong.

A page reads each form in one way: `Annotated[PersonForm, Form()]`. A form that can simply be
refused is a plain pydantic model beside its route.
"""

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ConfigDict, PrivateAttr


class TypedForm(BaseModel):
    """Every field is a text, a tick, or a list of what was ticked, and may be missing: what is
    wrong with it is said beside the field.
    """

    _wrong: dict[str, str] = PrivateAttr(default_factory=dict)

    model_config = ConfigDict(str_strip_whitespace=True)

    @property
    def wrong(self) -> dict[str, str]:
        """What is wrong and what to do, by field."""
        return self._wrong

    def get(self, name: str) -> Any:
        """What stands in the field of this name; an empty text where nothing does."""
        return getattr(self, name, "")

    def is_ticked(self, name: str, value: str) -> bool:
        given = self.get(name)
        return value in given if isinstance(given, list) else bool(given)

    def refuse(self, name: str, text: str) -> None:
        """The first thing that is wrong with a field is told."""
        self._wrong.setdefault(name, text)

    def refuse_all(self, wrong: Mapping[str, str]) -> None:
        for name, text in wrong.items():
            self.refuse(name, text)


class OpenForm(TypedForm):
    """With further fields, whose names only the yard's own data tells: crew.metalwork, or the
    cells of a sheet.
    """

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, str]

    @property
    def values(self) -> dict[str, str]:
        """The further fields, in the order of the form."""
        return self.__pydantic_extra__

    def list_group(self, group: str) -> dict[str, str]:
        """Of the fields group.x: what stands in them, by x."""
        return {
            name.removeprefix(f"{group}."): text
            for name, text in self.values.items()
            if name.startswith(f"{group}.")
        }
