"""Us and the libraries that we are measured against, all behind one small face.

A library is a class with `fill`, `chain` and `spread`, each from the ground alone, and
`directions`: what its last `chain` decided, in our codes, for the checks. It imports its library
when it is made; a library that is not installed raises ImportError and is left out.

What a library is given is what it asks for (float64 where it takes nothing else), and that
conversion is part of its time and memory, as it would be in use.
"""

from __future__ import annotations

import atexit
import os
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

__all__ = ["LIBRARIES", "Answer", "Library"]

Ground = NDArray[np.float32]
POWERS = np.array([1, 128, 64, 32, 16, 8, 4, 2])
"""Our codes 0 to 7 in the power-of-two codes (east 1, clockwise) that several libraries use."""


@dataclass
class Answer:
    """What a chain found; None where the library does not give it."""

    filled: NDArray[Any] | None
    accumulation: NDArray[Any] | None
    catchment: NDArray[Any] | None


class Library:
    """A library at its defaults; what it cannot do it leaves as it is here."""

    name: ClassVar[str]
    package: ClassVar[str]
    note: ClassVar[str] = ""
    catches: ClassVar[bool] = True  # delineates the catchment of any point
    does: ClassVar[tuple[str, ...]] = ("fill", "chain", "spread")

    def ready(self, ground: Ground) -> None:
        """Bring the ground to where the library reads it from; not timed."""

    def fill(self, ground: Ground) -> NDArray[Any]:
        """Fill depressions."""
        raise NotImplementedError

    def chain(self, ground: Ground, point: tuple[int, int]) -> Answer:
        """Fill, give single directions on flats too, accumulate, delineate one catchment."""
        raise NotImplementedError

    def spread(self, ground: Ground) -> NDArray[Any]:
        """Accumulate with flow spread between two neighbours (D-infinity), filling included."""
        raise NotImplementedError

    def told(self, ground: Ground) -> Answer | None:
        """What the last chain left in files, read in; not timed. None: it gave all it had."""

    def directions(self, ground: Ground) -> NDArray[np.uint8]:
        """Our codes of the last chain, 8 where water leaves, 255 without data."""
        raise NotImplementedError


def from_powers(codes: NDArray[Any], valid: NDArray[np.bool_]) -> NDArray[np.uint8]:
    table = np.full(256, 8, np.uint8)
    table[POWERS] = np.arange(8)
    return np.where(valid, table[np.clip(codes, 0, 255).astype(np.int64)], 255).astype(np.uint8)


def from_receivers(receiver: NDArray[Any], valid: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Turn flat indices of the cell ahead (itself: none) into our codes."""
    from geo_site.drainage import COLUMN_STEP, ROW_STEP

    step = receiver.reshape(-1) - np.arange(receiver.size)
    codes = np.full(receiver.size, 8, np.uint8)
    for code, (down, right) in enumerate(zip(ROW_STEP, COLUMN_STEP, strict=True)):
        codes[step == down * valid.shape[1] + right] = code
    return np.where(valid, codes.reshape(valid.shape), 255).astype(np.uint8)


class Ours(Library):
    """This project on one thread, by the public functions that `terrain` calls."""

    name, package = "geo_site, 1 thread", "geo_site"
    threads: ClassVar[int] = 1

    def __init__(self) -> None:
        from geo_site import drainage

        self.of = drainage
        self.direction = np.empty((0, 0), np.uint8)

    def _flood(self, ground: Ground) -> Any:
        outlets = self.of.outlet_cells(~np.isnan(ground), False)
        return self.of.flood(ground, outlets, 1.0, 1.0, threads=self.threads)

    def fill(self, ground: Ground) -> NDArray[Any]:
        filled: NDArray[Any] = self._flood(ground).filled
        return filled

    def chain(self, ground: Ground, point: tuple[int, int]) -> Answer:
        found = self.of.drain(ground, 1.0, 1.0, threads=self.threads)
        filled, self.direction, cells = found.filled, found.direction, found.cells
        seeds = np.zeros(ground.shape, dtype=bool)
        seeds[point] = True
        return Answer(filled, cells, self.of.upstream(self.direction, seeds))

    def spread(self, ground: Ground) -> NDArray[Any]:
        flood = self._flood(ground)
        cells: NDArray[Any] = self.of.spread_cells(flood.filled, flood.direction, 1.0, 1.0)
        return cells

    def directions(self, ground: Ground) -> NDArray[np.uint8]:
        return self.direction


class OursOnTwo(Ours):
    """The same on two threads."""

    name = "geo_site, 2 threads"
    threads = 2


class Pyflwdir(Library):
    name, package = "pyflwdir", "pyflwdir"
    note = "goes to the lowest neighbour, not the steepest; no D-infinity"
    does = ("fill", "chain")

    def __init__(self) -> None:
        import pyflwdir

        self.of = pyflwdir
        self.codes = np.empty((0, 0), np.uint8)

    def _flood(self, ground: Ground) -> Any:
        return self.of.dem.fill_depressions(ground, nodata=np.float32(np.nan))

    def fill(self, ground: Ground) -> NDArray[Any]:
        return np.asarray(self._flood(ground)[0])

    def chain(self, ground: Ground, point: tuple[int, int]) -> Answer:
        filled, self.codes = self._flood(ground)
        flow = self.of.from_array(self.codes, ftype="d8")
        cells = flow.upstream_area(unit="cell")
        at = np.array([point[0] * ground.shape[1] + point[1]])
        return Answer(filled, cells, flow.basins(idxs=at) > 0)

    def directions(self, ground: Ground) -> NDArray[np.uint8]:
        return from_powers(self.codes, ~np.isnan(ground))


class Pysheds(Library):
    name, package = "pysheds", "pysheds"
    note = "calls np.in1d, which numpy 2.4 took away: given back for the run"

    def __init__(self) -> None:
        if not hasattr(np, "in1d"):
            np.in1d = np.isin  # type: ignore[attr-defined]  # noqa: NPY201
        from affine import Affine
        from pysheds.grid import Grid
        from pysheds.view import Raster, ViewFinder

        self.grid, self.raster, self.view, self.affine = Grid, Raster, ViewFinder, Affine
        self.codes = np.empty((0, 0), np.int64)

    def _inflated(self, ground: Ground) -> tuple[Any, Any, Any]:
        view = self.view(
            affine=self.affine(1.0, 0.0, 0.0, 0.0, -1.0, 0.0),
            shape=ground.shape,
            nodata=np.float64(np.nan),
        )
        grid = self.grid(viewfinder=view)
        raster = self.raster(ground.astype(np.float64), viewfinder=view)
        filled = grid.fill_depressions(raster)
        return grid, filled, grid.resolve_flats(filled)

    def fill(self, ground: Ground) -> NDArray[Any]:
        view = self.view(
            affine=self.affine(1.0, 0.0, 0.0, 0.0, -1.0, 0.0),
            shape=ground.shape,
            nodata=np.float64(np.nan),
        )
        raster = self.raster(ground.astype(np.float64), viewfinder=view)
        return np.asarray(self.grid(viewfinder=view).fill_depressions(raster))

    def chain(self, ground: Ground, point: tuple[int, int]) -> Answer:
        grid, filled, inflated = self._inflated(ground)
        codes = grid.flowdir(inflated, nodata_out=np.int64(0))
        cells = grid.accumulation(codes)
        row, column = point
        catchment = grid.catchment(x=column, y=row, fdir=codes, xytype="index")
        self.codes = np.asarray(codes)
        return Answer(np.asarray(filled), np.asarray(cells), np.asarray(catchment))

    def spread(self, ground: Ground) -> NDArray[Any]:
        grid, _, inflated = self._inflated(ground)
        angles = grid.flowdir(inflated, routing="dinf", nodata_out=np.float64(np.nan))
        return np.asarray(grid.accumulation(angles, routing="dinf"))

    def directions(self, ground: Ground) -> NDArray[np.uint8]:
        return from_powers(self.codes, ~np.isnan(ground))


class Topotoolbox(Library):
    name, package = "topotoolbox", "topotoolbox"
    note = "carves through depressions; the chain fills inside and gives no filled surface"
    does = ("fill", "chain")

    def __init__(self) -> None:
        import topotoolbox

        self.of = topotoolbox
        self.flow: Any = None

    def _grid(self, ground: Ground) -> Any:
        grid = self.of.GridObject()
        grid.z, grid.cellsize = ground, 1.0
        return grid

    def fill(self, ground: Ground) -> NDArray[Any]:
        return np.asarray(self._grid(ground).fillsinks().z)

    def chain(self, ground: Ground, point: tuple[int, int]) -> Answer:
        self.flow = self.of.FlowObject(self._grid(ground))
        cells = self.flow.flow_accumulation()
        seeds = np.zeros(ground.shape, np.uint8)
        seeds[point] = 1
        catchment = self.flow.dependencemap(self.flow.grid(seeds))
        return Answer(None, np.asarray(cells.z), np.asarray(catchment.z))

    def directions(self, ground: Ground) -> NDArray[np.uint8]:
        receiver = np.arange(ground.size)
        receiver[self.flow.source] = self.flow.target
        return from_receivers(receiver, ~np.isnan(ground))


class Richdem(Library):
    name, package = "richdem", "py-richdem"
    note = (
        "goes to the lowest neighbour; no catchment of a point in its Python interface, so the "
        "chain is without; given float64, as in float32 its tilt leaves cells undrained"
    )
    catches = False

    def __init__(self) -> None:
        import richdem

        self.of = richdem
        self.resolved: Any = None

    def _filled(self, ground: Ground) -> Any:
        levels = np.where(np.isnan(ground), -9999.0, ground.astype(np.float64))
        wrapped = self.of.rdarray(levels, no_data=-9999.0)
        wrapped.geotransform = (0.0, 1.0, 0.0, 0.0, 0.0, -1.0)
        return self.of.fill_depressions(wrapped)

    def fill(self, ground: Ground) -> NDArray[Any]:
        filled = np.asarray(self._filled(ground))
        return np.where(filled == -9999.0, np.float32(np.nan), filled)

    def chain(self, ground: Ground, point: tuple[int, int]) -> Answer:
        filled = self._filled(ground)
        self.resolved = self.of.resolve_flats(filled)
        cells = np.asarray(self.of.flow_accumulation(self.resolved, method="D8"))
        return Answer(np.asarray(filled), cells, None)

    def spread(self, ground: Ground) -> NDArray[Any]:
        resolved = self.of.resolve_flats(self._filled(ground))
        return np.asarray(self.of.flow_accumulation(resolved, method="Dinf"))

    def directions(self, ground: Ground) -> NDArray[np.uint8]:
        shares = np.asarray(self.of.flow_proportions(self.resolved, method="D8"))
        turned = np.array([8, 4, 3, 2, 1, 0, 7, 6, 5], np.uint8)  # its order: west, then clockwise
        goes = shares[..., 1:] > 0.0
        codes = np.where(goes.any(axis=2), turned[1 + goes.argmax(axis=2)], np.uint8(8))
        return np.where(np.isnan(ground), np.uint8(255), codes)


class Fastscapelib(Library):
    name, package = "fastscapelib", "fastscapelib"
    note = "tilts what it fills; catchments are of outlets, all at once"
    catches = False
    does = ("chain",)

    def __init__(self) -> None:
        import fastscapelib

        self.of = fastscapelib
        self.graph: Any = None

    def chain(self, ground: Ground, point: tuple[int, int]) -> Answer:
        from geo_site.drainage import outlet_cells

        valid = ~np.isnan(ground)
        status = self.of.NodeStatus
        grid = self.of.RasterGrid(ground.shape, [1.0, 1.0], status.FIXED_VALUE)
        operators = [self.of.PFloodSinkResolver(), self.of.SingleFlowRouter()]
        self.graph = self.of.FlowGraph(grid, operators)
        self.graph.base_levels = np.flatnonzero(outlet_cells(valid, False))
        self.graph.mask = ~valid
        levels = np.where(valid, ground, np.float32(0.0)).astype(np.float64)
        filled = self.graph.update_routes(levels)
        return Answer(filled, self.graph.accumulate(1.0), self.graph.basins())

    def directions(self, ground: Ground) -> NDArray[np.uint8]:
        receiver = np.asarray(self.graph.impl().receivers)[:, 0]
        return from_receivers(receiver.astype(np.int64), ~np.isnan(ground))


class Reconstruction(Library):
    name, package = "scikit-image", "scikit-image"
    note = "filling alone, as a reconstruction by erosion"
    does = ("fill",)

    def __init__(self) -> None:
        from skimage.morphology import reconstruction

        self.of = reconstruction

    def fill(self, ground: Ground) -> NDArray[Any]:
        missing = np.isnan(ground)
        drain = np.nanmin(ground) - np.float32(1.0)
        mask = np.where(missing, drain, ground)
        lid = np.where(missing, drain, mask.max())
        for edge in (np.s_[0], np.s_[-1], np.s_[:, 0], np.s_[:, -1]):
            lid[edge] = mask[edge]
        filled = self.of(lid, mask, method="erosion", footprint=np.ones((3, 3)))
        return np.where(missing, np.nan, filled)


class Grass(Library):
    """A desktop GIS by its command-line modules, on maps in its own format."""

    name, package = "GRASS GIS", "grass-core"
    note = (
        "r.watershed -s -a and r.water.outlet, reading and writing maps; searches least cost ways"
    )
    does = ("chain",)
    ahead: ClassVar[NDArray[np.uint8]] = np.array([8, 1, 2, 3, 4, 5, 6, 7, 0], np.uint8)

    def __init__(self) -> None:
        found = sorted(Path("/usr/lib").glob("grass[0-9]*"))
        if not found or shutil.which("grass") is None:
            raise ImportError("GRASS GIS is not installed")
        self.folder = Path(tempfile.mkdtemp(prefix="drainage-grass-"))
        atexit.register(shutil.rmtree, self.folder, ignore_errors=True)
        made = ["grass", "-c", "XY", "-e", str(self.folder / "place")]
        subprocess.run(made, check=True, capture_output=True)
        session = self.folder / "session"
        session.write_text(
            f"GISDBASE: {self.folder}\nLOCATION_NAME: place\nMAPSET: PERMANENT\nGUI: text\n"
        )
        self.session = {
            **os.environ,
            "GISBASE": str(found[-1]),
            "GISRC": str(session),
            "PATH": f"{found[-1]}/bin:{os.environ['PATH']}",
            "LD_LIBRARY_PATH": f"{found[-1]}/lib",
        }

    def _run(self, *words: str) -> None:
        command = [*words, "--overwrite", "--quiet"]
        subprocess.run(command, env=self.session, check=True, capture_output=True)

    def _read(self, name: str, dtype: str, shape: tuple[int, ...]) -> NDArray[Any]:
        path = self.folder / f"{name}.bin"
        size = f"bytes={np.dtype(dtype).itemsize}"
        floats = ("-f",) if dtype[1] == "f" else ("-i",)
        self._run("r.out.bin", *floats, f"input={name}", f"output={path}", "null=0", size)
        return np.fromfile(path, dtype).reshape(shape)

    def ready(self, ground: Ground) -> None:
        path = self.folder / "ground.bin"
        np.where(np.isnan(ground), np.float32(-9999.0), ground).tofile(path)
        rows, columns = ground.shape
        box = [f"north={rows}", "south=0", f"east={columns}", "west=0"]
        size = [f"rows={rows}", f"cols={columns}", "bytes=4", "anull=-9999"]
        self._run("r.in.bin", "-f", f"input={path}", "output=ground", *box, *size)
        self._run("g.region", "raster=ground")

    def chain(self, ground: Ground, point: tuple[int, int]) -> Answer:
        maps = ["elevation=ground", "accumulation=cells", "drainage=ahead"]
        self._run("r.watershed", "-s", "-a", *maps)
        at = f"coordinates={point[1] + 0.5},{ground.shape[0] - point[0] - 0.5}"
        self._run("r.water.outlet", "input=ahead", "output=catchment", at)
        return Answer(None, None, None)

    def told(self, ground: Ground) -> Answer:
        cells = self._read("cells", "<f8", ground.shape)
        return Answer(None, cells, self._read("catchment", "<i4", ground.shape) > 0)

    def directions(self, ground: Ground) -> NDArray[np.uint8]:
        codes = self._read("ahead", "<i4", ground.shape)
        ours = np.where(codes > 0, self.ahead[np.clip(codes, 0, 8)], np.uint8(8))
        return np.where(np.isnan(ground), np.uint8(255), ours).astype(np.uint8)


ALL = (
    Ours,
    OursOnTwo,
    Pyflwdir,
    Topotoolbox,
    Richdem,
    Fastscapelib,
    Pysheds,
    Reconstruction,
    Grass,
)
LIBRARIES: dict[str, type[Library]] = {one.name: one for one in ALL}
