"""The floor plan of docs/design.md, held by reading the imports as text."""

from __future__ import annotations

import ast
from pathlib import Path

PACKAGE = Path(__file__).parent.parent / "geo_site"

FLOORS: tuple[frozenset[str], ...] = tuple(
    frozenset(names.split())
    for names in (
        "errors cautions",
        "units compiling",
        "drainage slopes volumes root_zones erosion probability "
        "weirs channels pipes outlines bed_levels machines pumps prices "
        "cascade evaporation porous rainfall runoff working_days one_call locate_quality "
        "error_fields",
        "crs parameters",
        "raster versions drawn",
        "site",
        "terrain",
        "constraints",
        "access",
        "siting",
        "layout",
        "water",
        "earthwork",
        "clearance",
        "quantities costs ranking visit locate_request certainty",
        "plan",
        "layers",
        "readers geopackage tables sheets kml drawing webmap",
        "bundle screening",
        "cli __main__",
    )
)

FAMILIES = (frozenset({"cli", "__main__"}),)
"""Splits of one module: they may know each other."""


def floor_of(module: str) -> int:
    """Give the floor on which a top-level module stands."""
    for number, names in enumerate(FLOORS):
        if module in names:
            return number
    raise AssertionError(f"geo_site.{module} stands on no floor: redraw docs/design.md first")


def module_of(path: Path) -> str:
    """Give the top-level module or folder that a file belongs to."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(path: Path) -> set[str]:
    """Give the top-level geo_site modules that a file imports, functions' imports included."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name} imports relatively"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        else:
            continue
        found |= {name.split(".")[1] for name in names if name.startswith("geo_site.")}
    return found


def files() -> list[Path]:
    """All source files but the package's front door, which shows the public names."""
    return sorted(p for p in PACKAGE.rglob("*.py") if p != PACKAGE / "__init__.py")


def test_every_module_stands_on_a_floor() -> None:
    for path in files():
        floor_of(module_of(path))


def test_imports_go_down() -> None:
    broken = [
        f"{path.relative_to(PACKAGE)} (floor {floor_of(here)}) imports {other}"
        for path in files()
        for here in [module_of(path)]
        for other in sorted(imported(path) - {here, "__version__"})
        if floor_of(other) >= floor_of(here)
        and not any({here, other} <= family for family in FAMILIES)
    ]
    assert not broken, broken


def test_the_law_can_be_broken(tmp_path: Path) -> None:
    climber = tmp_path / "units.py"
    climber.write_text("from geo_site.plan import propose\n", encoding="utf-8")
    assert imported(climber) == {"plan"}
    assert floor_of("plan") > floor_of("units")


def test_every_standing_module_is_on_the_page() -> None:
    page = (PACKAGE.parent / "docs" / "design.md").read_text(encoding="utf-8")
    table = page[page.index("| floor |") : page.index("A module is split")]
    missing = sorted({m for m in map(module_of, files()) if f"`{m}`" not in table})
    assert not missing, missing


def test_no_file_prints_or_swallows() -> None:
    for path in files():
        if module_of(path) in {"cli", "__main__"}:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id != "print", f"{path.name} prints"
            if isinstance(node, ast.ExceptHandler):
                assert node.type is not None, f"{path.name} catches everything"
