"""What of the installed packages the folder needs, found from the program's own source."""

import ast
from pathlib import Path

# Pillow reads JPEG and PNG, writes JPEG, and draws with a font. What opens other pictures, and the
# libraries under it, would be a third of Pillow.
PILLOW = {
    *("_imaging", "_imagingft", "_imagingmath"),
    *("libjpeg", "libpng16", "libz", "libzstd", "liblzma", "libtiff", "libopenjp2", "libxcb"),
    *("libfreetype", "libharfbuzz", "libbrotlicommon", "libbrotlidec", "libXau"),
}


def find_used_modules(package: str, source: Path) -> set[str]:
    """Modules such as scipy.special that the Python files under a folder use of a package.

    Such a package loads its modules when they are first asked for, so no import names them.
    """
    used: set[str] = set()
    for path in sorted(source.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            used.update(_list_named(node, package))
    return used


def _list_named(node: ast.AST, package: str) -> set[str]:
    if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        return {f"{package}.{node.attr}"} if node.value.id == package else set()
    if isinstance(node, ast.Import):
        return {one.name for one in node.names if one.name.startswith(f"{package}.")}
    if isinstance(node, ast.ImportFrom) and not node.level and node.module:
        if node.module == package:
            return {f"{package}.{one.name}" for one in node.names}
        return {node.module} if node.module.startswith(f"{package}.") else set()
    return set()


def list_languages(source: Path) -> set[str]:
    """English, and what has a catalogue."""
    folders = (source / "i18n" / "languages").iterdir()
    return {"en", *(path.name for path in folders if (path / "pages.po").exists())}


def is_needed(path: str, languages: set[str]) -> bool:
    """Whether a file of the built folder is one that the program opens.

    path: with / , below the folder of the packages; languages: those of list_languages.
    """
    parts = path.split("/")
    name = parts[-1].partition(".")[0]
    if parts[:2] == ["babel", "locale-data"]:
        # A language with all its regions, and what every language falls back to.
        return name.split("_")[0] in {*languages, "root"}
    if parts[0] == "PIL" and name.startswith("_"):
        return name in PILLOW
    if parts[0] == "pillow.libs":
        return name.split("-")[0] in PILLOW
    return "tests" not in parts
