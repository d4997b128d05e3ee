"""Loads a checklist: every error of its file is told with file, line and key, or it becomes a
Checklist.
"""

from collections.abc import Mapping
from pathlib import Path

from qcapp.checklist.drawing import Drawings
from qcapp.checklist.model import Checklist
from qcapp.checklist.read_checklist import read_checklist
from qcapp.checklist.source import (
    ChecklistError,
    ChecklistErrors,
    Node,
    Problems,
    parse_source,
    read_source,
)


def load_checklist(path: Path | str) -> Checklist:
    """The checklist in a YAML file; its drawing is looked up beside it.

    Raises ChecklistErrors, which holds every error of the file.
    """
    checklist, errors = _read(Path(path))
    if errors or checklist is None:
        raise ChecklistErrors(errors)
    return checklist


def find_errors(path: Path | str) -> list[ChecklistError]:
    """Every error of a checklist file in line order; empty when it can be used."""
    return _read(Path(path))[1]


def read_text(
    text: str, name: str, folder: Path, drawn: Mapping[str, str] | None = None
) -> tuple[Checklist | None, list[ChecklistError]]:
    """The checklist in a YAML text, or every error of it in line order. name: said in errors;
    folder: of the drawings; drawn: SVG by name of drawings that lie elsewhere.
    """
    problems = Problems(name)
    return _compile(parse_source(text, problems), Drawings(folder, drawn or {}), problems)


def _read(path: Path) -> tuple[Checklist | None, list[ChecklistError]]:
    problems = Problems(path.name)
    return _compile(read_source(path, problems), Drawings(path.parent), problems)


def _compile(
    root: Node | None, drawings: Drawings, problems: Problems
) -> tuple[Checklist | None, list[ChecklistError]]:
    draft = read_checklist(root, drawings, problems) if root else None
    if problems.errors or draft is None:
        return None, problems.listed()
    return Checklist.from_compiled(draft), []
