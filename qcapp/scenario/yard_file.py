"""A yard's people and batches: what fits together, from a YAML file or from a page."""

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Annotated, Any

import yaml
from pydantic import Field, ValidationError, model_validator

from qcapp.checklist.frozen_model import FrozenModel
from qcapp.checklist.model import Checklist
from qcapp.errors import BadInput

Code = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9-]{0,39}$")]
Name = Annotated[str, Field(min_length=1, max_length=80)]


class YardPerson(FrozenModel):
    code: Code
    name: Name
    trades: tuple[str, ...] = ()
    started_on: date | None = None
    is_inspector: bool = False
    has_left: bool = False


class YardBatch(FrozenModel):
    """crew: by trade, who usually does it; closed_at: UTC text, such as
    2026-11-25T17:00:00.000Z. ordered: stoves of the buyer's order.
    """

    code: Code
    title: Name
    size: str
    planned: Annotated[int, Field(ge=1, le=100_000)]
    attributes: dict[str, bool | int | str] = Field(default_factory=dict)
    crew: dict[str, Code] = Field(default_factory=dict)
    checklist_ids: Annotated[tuple[str, ...], Field(min_length=1)]
    serial_prefix: Annotated[str, Field(max_length=20)] = ""
    opened_on: date
    closed_at: Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$")] | None = (
        None
    )
    order_no: Annotated[str, Field(max_length=40)] = ""
    contract_no: Annotated[str, Field(max_length=40)] = ""
    ordered: Annotated[int, Field(ge=1, le=1_000_000)] | None = None


class YardFile(FrozenModel):
    people: tuple[YardPerson, ...]
    batches: tuple[YardBatch, ...] = ()

    @model_validator(mode="after")
    def _fits_together(self) -> "YardFile":
        for name, codes in (
            ("person", [p.code for p in self.people]),
            ("batch", [b.code for b in self.batches]),
        ):
            double = sorted({code for code in codes if codes.count(code) > 1})
            if double:
                raise ValueError(f"the same {name} appears twice: {', '.join(double)}")
        trades = {person.code: person.trades for person in self.people}
        for batch in self.batches:
            for what in list_crew_faults(batch.crew, trades).values():
                raise ValueError(f"batch {batch.code}: {what}")
        return self

    def list_people(self) -> list[dict[str, Any]]:
        return [person.model_dump(mode="json") for person in self.people]

    def list_batches(self) -> list[dict[str, Any]]:
        return [batch.model_dump(mode="json") for batch in self.batches]


def read_shape(
    shape: type[FrozenModel], words: Mapping[str, str], **values: object
) -> tuple[dict[str, Any] | None, dict[str, str]]:
    """A person or batch from a page, as save_people and save_batches take it, or {key: what is
    wrong}. words: for a key that is.
    """
    try:
        return shape.model_validate(values).model_dump(mode="json"), {}
    except ValidationError as error:
        found = [
            (str(one["loc"][0]), one["msg"])
            for one in error.errors(include_url=False, include_input=False)
        ]
        return None, {key: words.get(key, message) for key, message in found}


def list_crew_faults(
    crew: Mapping[str, str], trades: Mapping[str, Sequence[str]]
) -> dict[str, str]:
    """{trade: what is wrong}. crew: code by trade; trades: those of each person by code."""
    return {
        trade: f"{code} is no one with the trade {trade}"
        for trade, code in crew.items()
        if trade not in trades.get(code, ())
    }


def load_yard_file(path: Path, checklists: Mapping[str, Checklist]) -> YardFile:
    """Reads and checks the file. checklists: current ones by id.

    Raises BadInput that names the first key that does not fit.
    """
    try:
        yard = YardFile.model_validate(yaml.safe_load(path.read_text(encoding="utf-8")))
    except ValidationError as error:
        found = error.errors(include_url=False, include_input=False)
        # A misspelt key also makes the right one missing; the misspelling is what to mend.
        first = min(found, key=lambda one: one["type"] != "extra_forbidden")
        place = ".".join(str(step) for step in first["loc"])
        raise BadInput(
            f"yard file: {first['msg']}",
            f"{path} {place}".strip(),
            "correct this key; nothing was changed",
        ) from error
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as error:
        raise BadInput(
            f"yard file cannot be read: {error}", str(path), "give a readable YAML file"
        ) from error
    for batch in yard.batches:
        _check_batch(batch, checklists, path)
    return yard


def _check_batch(batch: YardBatch, checklists: Mapping[str, Checklist], path: Path) -> None:
    for checklist_id in batch.checklist_ids:
        known = checklists.get(checklist_id)
        if known is None:
            raise BadInput(
                f"there is no checklist {checklist_id}",
                f"{path} batch {batch.code}",
                f"there are {', '.join(sorted(checklists))}",
            )
        if batch.size not in known.sizes:
            raise BadInput(
                f"{checklist_id} has no limits for the size {batch.size}",
                f"{path} batch {batch.code}",
                f"there are {', '.join(known.sizes)}",
            )
