"""docs/looks.md has the looks as they are. ``python tests/test_looks_page.py`` writes it again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from page_tables import read, remade, rewrite, table

from geo_site.layers import DRAWING_ORDER, LAYERS, Symbol

PAGE = "looks.md"
HEAD = ("layer", "class", "colour", "line, mm", "dash, mm", "hatch or mark", "told by", "drawn to",
        "label, to")  # fmt: skip


def scale(denominator: float) -> str:
    return f"1:{denominator:,.0f}" if denominator else "always"


def paint(symbol: Symbol) -> str:
    if not symbol.fill:
        return f"`{symbol.stroke}`"
    return f"`{symbol.stroke}`, fill `{symbol.fill}` {symbol.opacity:.0%}"


def rows() -> Iterator[tuple[str, ...]]:
    for layer in LAYERS:
        look = layer.look
        label = " ".join(
            part
            for part in (
                look.label_before,
                f"`{look.label}`",
                f"`{look.label_also}`" if look.label_also else "",
            )
            if part
        )
        for name, symbol in look.classes or (("", look.symbol),):
            yield (
                f"`{layer.name}`",
                f"{name.replace('_', ' ')}{' (kept back)' if name in look.quiet else ''}",
                paint(symbol),
                f"{symbol.width_mm:g}" if symbol.width_mm else "none",
                " ".join(f"{part:g}" for part in symbol.dash_mm) or "solid",
                symbol.hatch or symbol.marker,
                ", ".join(symbol.told_by),
                scale(look.drawn_to),
                f"{label}, {scale(look.labels_to)}" if look.label else "",
            )


def looks_table(keys: Sequence[str]) -> str:
    assert not keys
    return table(HEAD, rows())


def order(keys: Sequence[str]) -> str:
    assert not keys
    return ", ".join(f"`{name}`" for name in DRAWING_ORDER) + "."


MAKERS = {"looks": looks_table, "order": order}


def test_the_page_is_as_the_looks_are() -> None:
    assert read(PAGE) == remade(read(PAGE), MAKERS), "run: python tests/test_looks_page.py"


def test_every_symbol_has_a_row() -> None:
    assert len(list(rows())) == sum(max(len(one.look.classes), 1) for one in LAYERS) == 38


if __name__ == "__main__":
    rewrite(PAGE, MAKERS)
