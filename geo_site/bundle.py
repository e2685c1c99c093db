"""The whole output folder of a plan: all or nothing.

In: a plan and a folder. Out: the folder, complete, or untouched. Method: everything is written
into a new folder beside the target, which takes the target's name by renaming at the very end;
an interrupted run leaves the previous output whole.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from geo_site.drawing import write_drawing
from geo_site.errors import OutputRefused
from geo_site.geopackage import write_geopackage, write_styles, write_terrain
from geo_site.kml import write_locate_request, write_works
from geo_site.plan import Plan, Sweep
from geo_site.sheets import write_clearance_pdf, write_plan_pdf, write_sweep_pdf
from geo_site.tables import (
    write_changes,
    write_clearances,
    write_compared,
    write_costs,
    write_plan_json,
    write_quantities,
    write_set_out,
    write_sweep_table,
)
from geo_site.webmap import write_webmap

__all__ = ["OUTPUT_NAMES", "SWEEP_NAMES", "check_target", "write_plan", "write_sweep"]

OUTPUT_NAMES: frozenset[str] = frozenset(
    {
        "plan.gpkg",
        "plan.json",
        "clearance.csv",
        "quantities.csv",
        "costs.csv",
        "alternatives.csv",
        "changes.csv",
        "set_out.csv",
        "locate_request.kml",
        "works.kml",
        "drawing.dxf",
        "plan.pdf",
        "plan.html",
        "clearance.pdf",
        "terrain",
        "styles",
    }
)
"""What a plan's folder holds: a folder with anything else is never overwritten."""


SWEEP_NAMES: frozenset[str] = frozenset({"sweep.csv", "sweep.pdf"})
"""What a sweep's folder holds."""


def write_plan(plan: Plan, folder: str | Path, *, overwrite: bool = False) -> tuple[Path, ...]:
    """Write everything that a plan gives.

    Parameters
    ----------
    plan : Plan
        What to write.
    folder : str or Path
        Target; made if it is not there.
    overwrite : bool
        Whether an earlier output may be replaced.

    Returns
    -------
    tuple of Path
        What the folder holds, sorted.

    Raises
    ------
    OutputRefused
        The folder is there and may not be replaced, or cannot be written.
    """
    target = Path(folder)
    check_target(target, overwrite=overwrite)
    with _beside(target) as aside:
        write_geopackage(plan, aside / "plan.gpkg")
        write_plan_json(plan, aside / "plan.json")
        write_clearances(plan, aside / "clearance.csv")
        write_quantities(plan, aside / "quantities.csv")
        if plan.costs is not None:
            write_costs(plan.costs, aside / "costs.csv")
        if plan.changes:
            write_changes(plan, aside / "changes.csv")
        if plan.compared:
            write_compared(plan, aside / "alternatives.csv")
        write_set_out(plan, aside / "set_out.csv")
        write_locate_request(plan, aside / "locate_request.kml")
        write_works(plan, aside / "works.kml")
        write_drawing(plan, aside / "drawing.dxf")
        write_plan_pdf(plan, aside / "plan.pdf")
        write_webmap(plan, aside / "plan.html")
        write_clearance_pdf(plan, aside / "clearance.pdf")
        write_terrain(plan, aside / "terrain")
        write_styles(aside / "styles")
        _take_name(aside, target)
    return tuple(sorted(target.iterdir()))


def write_sweep(sweep: Sweep, folder: str | Path, *, overwrite: bool = False) -> tuple[Path, ...]:
    """Write the table and the graphs of a sweep.

    Parameters
    ----------
    sweep : Sweep
        What to write.
    folder : str or Path
        Target; made if it is not there.
    overwrite : bool
        Whether an earlier sweep may be replaced.

    Returns
    -------
    tuple of Path
        What the folder holds, sorted.

    Raises
    ------
    OutputRefused
        The folder is there and may not be replaced, or cannot be written.
    """
    target = Path(folder)
    check_target(target, overwrite=overwrite, names=SWEEP_NAMES)
    with _beside(target) as aside:
        write_sweep_table(sweep, aside / "sweep.csv")
        write_sweep_pdf(sweep, aside / "sweep.pdf")
        _take_name(aside, target)
    return tuple(sorted(target.iterdir()))


def check_target(target: Path, *, overwrite: bool, names: frozenset[str] = OUTPUT_NAMES) -> None:
    """Refuse a target that must not be written to.

    Parameters
    ----------
    target : Path
        Output folder.
    overwrite : bool
        Whether an earlier output may be replaced.
    names : frozenset of str
        What may be replaced.

    Raises
    ------
    OutputRefused
        It is a file; it is there without ``overwrite``; it holds what is not ours.
    """
    if not target.exists():
        return
    if not target.is_dir():
        raise OutputRefused(f"{target}: is a file; name a folder")
    found = sorted(path.name for path in target.iterdir())
    if found and not overwrite:
        raise OutputRefused(f"{target}: is there already; --overwrite replaces it")
    strange = [name for name in found if name not in names]
    if strange:
        raise OutputRefused(
            f"{target}: holds {strange[0]}, which is not part of this; name another folder"
        )


@contextmanager
def _beside(target: Path) -> Iterator[Path]:
    """Give a new folder beside the target; it is gone afterwards unless it took the name."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    except OSError as fault:
        raise OutputRefused(f"{target}: cannot be written: {fault.strerror}") from None
    aside.chmod(0o755)  # a temporary folder is private, an output folder is not
    try:
        yield aside
    except OutputRefused as refused:  # by a door, which knows only the folder aside
        raise OutputRefused(str(refused).replace(str(aside), str(target))) from None
    except OSError as fault:
        raise OutputRefused(f"{target}: cannot be written: {fault.strerror or fault}") from fault
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _take_name(aside: Path, target: Path) -> None:
    """Put the new folder in the place of the old one; the old one goes last."""
    if not target.exists():
        aside.rename(target)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{target.name}-old-", dir=target.parent))
    kept = old / target.name
    target.rename(kept)
    try:
        aside.rename(target)
    except OSError:
        kept.rename(target)
        raise
    finally:
        shutil.rmtree(old, ignore_errors=True)
