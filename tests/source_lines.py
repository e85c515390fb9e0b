"""Counts code lines: without blanks, comments and docstrings."""

from __future__ import annotations

import ast
import io
import tokenize
from pathlib import Path

PACKAGE = Path(__file__).parent.parent / "sandlab"
_NO_CODE = {
    tokenize.COMMENT,
    tokenize.NL,
    tokenize.NEWLINE,
    tokenize.INDENT,
    tokenize.DEDENT,
    tokenize.ENCODING,
    tokenize.ENDMARKER,
}


def _docstring_lines(tree: ast.Module) -> set[int]:
    found: set[int] = set()
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if not isinstance(body, list) or not body or not isinstance(body[0], ast.Expr):
            continue
        value = body[0].value
        if isinstance(value, ast.Constant) and isinstance(value.value, str):
            found |= set(range(body[0].lineno, (body[0].end_lineno or body[0].lineno) + 1))
    return found


def code_lines(path: Path) -> int:
    """Lines of one module that hold code."""
    text = path.read_text(encoding="utf-8")
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _NO_CODE:
            lines |= set(range(token.start[0], token.end[0] + 1))
    return len(lines - _docstring_lines(ast.parse(text)))


def share_without_textual() -> float:
    """Share of the package's code lines outside screens/."""
    modules = {path: code_lines(path) for path in PACKAGE.rglob("*.py")}
    screens = sum(count for path, count in modules.items() if "screens" in path.relative_to(PACKAGE).parts)
    return 1.0 - screens / sum(modules.values())
