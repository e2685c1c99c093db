"""Distance, slope, contours, zones and groups beside other libraries: ``python other_steps.py``.

For these steps a library is called where one is within a factor of two. Each entry is checked
against the first of its kind before it is timed: distances and zones must be equal, slopes too
where all eight neighbours are known, contours as long in all, groups as many. The best of five
turns counts, in turn, in one process on one thread. Peers that are not installed are left out.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from affine import Affine
from grounds import make_ground
from numpy.typing import NDArray

ROUNDS = 5
CELL_M = 0.5
LEVELS = 40

Levels = NDArray[np.float32]
Run = Callable[[], Any]
Entry = tuple[str, Run, Callable[[Any], Any]]


def main() -> None:
    """Measure every step on one ground and print a table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--side", type=int, default=2000)
    asked.add_argument("--ground", default="lidar")
    said = asked.parse_args()
    ground = make_ground(said.ground, said.side)
    cells = int(np.count_nonzero(~np.isnan(ground)))
    print(f"{said.ground} ground, {said.side} a side: {cells:,} cells with data\n")  # noqa: T201
    print("| step | library | ns/cell | times ours |")  # noqa: T201
    print("|---|---|--:|--:|")  # noqa: T201
    for step, entries in STEPS.items():
        for line in measured(step, list(entries(ground)), cells):
            print(line)  # noqa: T201


def measured(step: str, entries: list[Entry], cells: int) -> Iterator[str]:
    """Check, then time the entries of one step in turn; the first is what geo_site calls."""
    told = [told_of(entry) for entry in entries]
    right = [np.allclose(one, told[0], rtol=1e-3, atol=1e-4, equal_nan=True) for one in told]
    best = [np.inf] * len(entries)
    for _ in range(ROUNDS):
        for number, (_, run, _) in enumerate(entries):
            if right[number]:
                begun = time.perf_counter()
                run()
                best[number] = min(best[number], time.perf_counter() - begun)
    for number, (name, _, _) in enumerate(entries):
        if right[number]:
            ns, ratio = best[number] / cells * 1e9, best[number] / best[0]
            yield f"| {step} | {name} | {ns:.1f} | {ratio:.2f} |"
        else:
            yield f"| {step} | {name} | another answer: not timed | |"


def told_of(entry: Entry) -> NDArray[np.float64]:
    """Run once, which also compiles what is compiled, and boil the answer down."""
    _, run, boil = entry
    return np.atleast_1d(np.asarray(boil(run()), dtype=np.float64))


def distances(ground: Levels) -> Iterator[Entry]:
    """Distance of each cell to the nearest blocked one."""
    from scipy import ndimage

    free = np.ones(ground.shape, bool)
    free[np.random.default_rng(1).integers(0, len(free), (400, 2)).T.tolist()] = False
    yield "scipy.ndimage (ours)", lambda: ndimage.distance_transform_edt(free), np.ravel
    try:
        import cv2
    except ImportError:
        return
    bytes_ = free.astype(np.uint8)
    yield "opencv, precise", lambda: cv2.distanceTransform(bytes_, cv2.DIST_L2, 0), np.ravel


def slopes(ground: Levels) -> Iterator[Entry]:
    """Horn's slope."""
    from geo_site.slopes import gradient, slope_of

    levels = ground.astype(np.float64)
    inner = ~np.isnan(sum(np.roll(levels, (i, j), (0, 1)) for i in (-1, 0, 1) for j in (-1, 0, 1)))
    inner[[0, -1]] = inner[:, [0, -1]] = False

    def boil(slope: Any) -> Any:
        return np.asarray(slope)[inner]

    yield "geo_site.slopes", lambda: slope_of(*gradient(levels, CELL_M, CELL_M)), boil
    try:
        import richdem
    except ImportError:
        pass
    else:
        made = richdem.rdarray(np.where(np.isnan(levels), -9999.0, levels), no_data=-9999.0)
        made.geotransform = (0.0, CELL_M, 0.0, 0.0, 0.0, -CELL_M)
        yield "richdem", lambda: richdem.TerrainAttribute(made, "slope_riserun"), boil
    from scipy import ndimage

    def sobel() -> Any:
        east = ndimage.sobel(levels, axis=1) / (8.0 * CELL_M)
        north = ndimage.sobel(levels, axis=0) / (8.0 * CELL_M)
        return np.hypot(east, north)

    yield "scipy.ndimage, no slope beside holes", sobel, boil


def contours(ground: Levels) -> Iterator[Entry]:
    """Lines of equal level."""
    from contourpy import LineType, contour_generator

    wanted = np.linspace(np.nanmin(ground), np.nanmax(ground), LEVELS + 2)[1:-1] + 1e-5
    levels = ground.astype(np.float64)

    def boil(lines: Any) -> Any:
        return sum(np.hypot(*np.diff(np.asarray(line), axis=0).T).sum() for line in lines)

    def ours() -> Any:
        made = contour_generator(
            z=np.ma.masked_invalid(levels), corner_mask=False, line_type=LineType.Separate
        )
        return [line for level in wanted for line in made.lines(float(level))]

    yield "contourpy (ours)", ours, boil
    try:
        from skimage import measure
    except ImportError:
        return

    def theirs() -> Any:
        return [line for level in wanted for line in measure.find_contours(levels, float(level))]

    yield "scikit-image", theirs, boil


def zones(ground: Levels) -> Iterator[Entry]:
    """Ground that is marked, as areas: summed square cells."""
    from geo_site.raster import trace

    marked = ground > np.nanmedian(ground)
    from rasterio import features
    from shapely.geometry import shape

    class Grid:
        transform = Affine(1.0, 0.0, 0.0, 0.0, -1.0, float(len(ground)))

    def bare() -> Any:
        found = features.shapes(marked.astype(np.uint8), mask=marked, transform=Grid.transform)
        return [shape(geometry) for geometry, _ in found]

    yield "geo_site.raster.trace", lambda: trace(marked, Grid()), lambda area: area.area  # type: ignore[arg-type]
    yield (
        "rasterio.features, not joined to one area",
        bare,
        lambda parts: sum(part.area for part in parts),
    )


def groups(ground: Levels) -> Iterator[Entry]:
    """Cells that touch, also at corners."""
    from geo_site.drainage.depressions import label_groups

    marked = ground > np.nanmedian(ground)
    yield "geo_site", lambda: label_groups(marked), np.ravel
    from scipy import ndimage

    corners = np.ones((3, 3), bool)
    yield "scipy.ndimage", lambda: ndimage.label(marked, corners)[0], np.ravel
    try:
        import cv2
    except ImportError:
        return
    bytes_ = marked.astype(np.uint8)
    yield "opencv", lambda: cv2.connectedComponents(bytes_, connectivity=8)[1], np.max


STEPS: dict[str, Callable[[Levels], Iterator[Entry]]] = {
    "distance": distances,
    "slope": slopes,
    "contours": contours,
    "zones": zones,
    "groups": groups,
}


if __name__ == "__main__":
    main()
