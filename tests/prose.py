"""Every sentence that the house can say, read from its own files: code, templates, plans, scripts.

What a developer reads (docstrings, comments, names) is left out; what a maker may read is in, with
an ellipsis where a value is put in.
"""

import ast
import html
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
SPEAKING = ("dashboards", "service", "sensors")
_HOLE = "…"
_END_OF_SENTENCE = re.compile(r"(?<=[.!?;])\s+|\n\s*\n|\s*[•·|]\s*")
_HIDDEN = re.compile(r"<(script|style)\b.*?</\1>", re.DOTALL)
_BLOCK = re.compile(
    r"</?(?:p|li|h\d|td|th|tr|dt|dd|div|summary|button|a|title|option|label)\b[^>]*>"
)
_SPOKEN = re.compile(r'(?:aria-label|title|placeholder|alt|data-words)="([^"]*)"')


def sentences(text: str) -> Iterator[str]:
    """The sentences of a text, each on one line."""
    for each in _END_OF_SENTENCE.split(text):
        said = " ".join(each.replace("\xa0", " ").replace("\u2060", "").split())
        if said:
            yield said


def page_sentences(page: str) -> Iterator[str]:
    """What a page says, also in the attributes that are read aloud."""
    page = _HIDDEN.sub(" ", page)
    for spoken in _SPOKEN.findall(page):
        yield from sentences(html.unescape(spoken))
    blocks = _BLOCK.sub("\n\n", page)
    yield from sentences(html.unescape(re.sub(r"<[^>]+>", "", blocks)))


def data_sentences(told: Any) -> Iterator[str]:
    """What data says that came as JSON or TOML, whatever its shape."""
    for text in _values(told):
        yield from sentences(text)


def house_sentences() -> Iterator[tuple[str, str]]:
    """Each sentence in the house's own files, with the file that says it."""
    for room in SPEAKING:
        for file in sorted((ROOT / room).rglob("*")):
            name = str(file.relative_to(ROOT))
            for said in _of_file(file):
                yield name, said


def _of_file(file: Path) -> Iterator[str]:
    if file.suffix == ".py" and "migrations" not in file.parts:
        for text in _strings(ast.parse(file.read_text())):
            yield from sentences(text)
    elif file.suffix == ".toml":
        yield from data_sentences(tomllib.loads(file.read_text()))
    elif file.suffix == ".html":
        text = re.sub(r"\{#.*?#\}|\{%.*?%\}", " ", file.read_text(), flags=re.DOTALL)
        yield from page_sentences(re.sub(r"\{\{.*?\}\}", _HOLE, text, flags=re.DOTALL))
    elif file.suffix == ".js":
        for quoted in re.findall(r'"([^"\n]*)"|`([^`]*)`', file.read_text()):
            yield from sentences(quoted[0] or quoted[1])


def _strings(tree: ast.AST) -> Iterator[str]:
    """The texts in a module that are no docstrings, also of a name; one with values is one text."""
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    parts = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.JoinedStr)
        for part in node.values
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(_part(part) for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            is_docstring = id(node) in told
            if not is_docstring and id(node) not in parts:
                yield node.value


def _part(part: ast.expr) -> str:
    is_text = isinstance(part, ast.Constant) and isinstance(part.value, str)
    return part.value if is_text else _HOLE  # type: ignore[attr-defined]  # a constant has a value


def _values(told: Any) -> Iterator[str]:
    if isinstance(told, str):
        yield told
    elif isinstance(told, dict):
        for each in told.values():
            yield from _values(each)
    elif isinstance(told, list):
        for each in told:
            yield from _values(each)
