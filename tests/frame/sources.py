"""The tests' own files, for checks of how tests are written."""

from pathlib import Path

from tests.builders import ROOT


def list_sources(pattern: str = "*.py", *left_out: str) -> list[Path]:
    """left_out: folders, besides those of packages that are not ours."""
    folders = {".venv", "node_modules", *left_out}
    return sorted(
        path
        for path in (ROOT / "tests").rglob(pattern)
        if not folders & set(path.relative_to(ROOT).parts)
    )
