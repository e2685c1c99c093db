"""Tables of the documents that are made from the code: found by their markers and made again.

A table stands between ``<!-- name: keys -->`` and ``<!-- end -->``; the keys say which rows.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path

DOCS = Path(__file__).parent.parent / "docs"

Maker = Callable[[Sequence[str]], str]

_MARKED = re.compile(
    r"(?P<begin><!-- (?P<name>[a-z_]+):(?P<keys>[^>]*?)-->\n)(?P<body>.*?)(?P<end><!-- end -->)",
    re.DOTALL,
)


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table in Markdown; a bar in a cell is escaped, lines are joined."""
    lines = [list(head), ["---"] * len(head), *rows]
    cells = [[" ".join(cell.split()).replace("|", r"\|") for cell in line] for line in lines]
    return "\n".join(f"| {' | '.join(line)} |" for line in cells)


def remade(text: str, makers: Mapping[str, Maker]) -> str:
    """The same page with every marked table made again; a marker of no maker is an error."""

    def again(found: re.Match[str]) -> str:
        made = makers[found["name"]](found["keys"].split())
        return f"{found['begin']}\n{made}\n\n{found['end']}"

    return _MARKED.sub(again, text)


def read(name: str) -> str:
    """Text of a document."""
    return (DOCS / name).read_text(encoding="utf-8")


def rewrite(name: str, makers: Mapping[str, Maker]) -> None:
    """Make the marked tables of a document again, in place."""
    (DOCS / name).write_text(remade(read(name), makers), encoding="utf-8")
