"""The numbers that judging goes by, read from where they stand: name, value and the comment beside it."""

import ast
import importlib
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files

PACKAGES = ("service.judge", "service.compose")


@dataclass(frozen=True, slots=True)
class Term:
    """A named constant of a module; ``said`` is its comment, empty where it says all itself."""

    module: str
    name: str
    value: object
    said: str


def terms() -> Iterator[Term]:
    """Every public constant of the judging modules, module by module in the order of the text."""
    for package in PACKAGES:
        for entry in sorted(files(package).iterdir(), key=lambda entry: entry.name):
            if entry.name.endswith(".py") and entry.name != "__init__.py":
                yield from _terms_of(f"{package}.{entry.name[:-3]}", entry.read_text(encoding="utf-8"))


def _terms_of(module: str, source: str) -> Iterator[Term]:
    lines = source.splitlines()
    loaded = importlib.import_module(module)
    for node in ast.parse(source).body:
        names = [name for target in _targets(node) for name in _names(target)]
        for name in names:
            value = getattr(loaded, name)
            if isinstance(value, (int, float, tuple, dict, str)) and not _holds_code(value):
                yield Term(module, name, value, _comment(lines, node))


def _holds_code(value: object) -> bool:
    return callable(value) or (isinstance(value, dict) and any(callable(v) for v in value.values()))


def _targets(node: ast.stmt) -> list[ast.expr]:
    if isinstance(node, ast.Assign):
        return node.targets
    return [node.target] if isinstance(node, ast.AnnAssign) else []


def _names(target: ast.expr) -> list[str]:
    parts = target.elts if isinstance(target, ast.Tuple) else [target]
    return [
        p.id for p in parts if isinstance(p, ast.Name) and p.id.isupper() and len(p.id) > 1 and p.id[0] != "_"
    ]


def _comment(lines: list[str], node: ast.stmt) -> str:
    """The comment behind a constant's last line, else the lines of comment right above it."""
    for number in (node.lineno - 1, (node.end_lineno or node.lineno) - 1):
        _, mark, behind = lines[number].partition("  # ")
        if mark:
            return behind.strip()
    above: list[str] = []
    at = node.lineno - 2
    while at >= 0 and lines[at].startswith("# "):
        above.insert(0, lines[at][2:].strip())
        at -= 1
    return " ".join(above)
