"""One measurement in a process of its own: ``python measure.py TASK.json``.

The task names a library, a piece of work and a file of ground; the result is written beside the
task as RESULT.json. Compiling is done before, on a tiny ground, and is in no figure.

Peak memory is what the operating system says: the high-water mark of this process (and of the
programs that it starts), less what was resident after imports and the tiny run. On Linux the mark
is set back first, so that compiling does not hide what the work itself takes. The ground, read
after that, is in the figure: 4 bytes for each cell.
"""

from __future__ import annotations

import gc
import hashlib
import json
import resource
import sys
import time
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np
from grounds import make_ground
from numpy.typing import NDArray
from peers import LIBRARIES, Answer, Library
from windows import WAYS, blocked_ground, search

TINY = 64
STATUS = Path("/proc/self/status")


def main(task_file: Path) -> None:
    """Do the task of a file and write its result."""
    task = json.loads(task_file.read_text())
    work = {"make": make, "check": check, "time": clock, "search": clock_search}[task["do"]]
    try:
        result = work(task)
    except ImportError as absent:
        result = {"absent": str(absent)}
    except MemoryError:
        result = {"failed": "out of memory"}
    task_file.with_name("result.json").write_text(json.dumps(result))


def make(task: dict[str, Any]) -> dict[str, Any]:
    """Make the ground, and say what a right answer looks like and where a catchment is asked."""
    ground = make_ground(task["ground"], task["side"])
    np.save(task["file"], ground)
    library = LIBRARIES["geo_site, 1 thread"]()
    answer = library.chain(ground, (0, 0))
    assert answer.filled is not None
    assert answer.accumulation is not None
    dry = answer.filled == ground
    quiet = dry.copy()  # neither the cell nor a neighbour is raised: no flat decides the way
    for axis in (0, 1):
        for step in (-1, 1):
            quiet &= np.roll(quiet, step, axis)
    place = int(np.argmax(np.where(quiet, answer.accumulation, 0.0)))
    point = divmod(place, ground.shape[1])
    return {
        "valid": int(np.count_nonzero(~np.isnan(ground))),
        "raised": int(np.count_nonzero(answer.filled > ground)),
        "filled": fingerprint(answer.filled, ground),
        "point": list(point),
        "catchment": int(answer.accumulation[point]),
    }


def fingerprint(filled: NDArray[Any], ground: NDArray[np.float32]) -> str:
    """Hash the filled levels as float32, row by row, no data left out."""
    digest = hashlib.blake2b(digest_size=16)
    for row, levels in zip(filled, ground, strict=True):
        digest.update(row[~np.isnan(levels)].astype(np.float32).tobytes())
    return digest.hexdigest()


def check(task: dict[str, Any]) -> dict[str, Any]:
    """Say what is wrong with a library's answers, and in what they differ from ours."""
    library = LIBRARIES[task["library"]]()
    ground = np.load(task["file"])
    faults: list[str] = []
    facts: dict[str, float] = {}
    library.ready(ground)
    if "fill" in library.does and fingerprint(library.fill(ground), ground) != task["filled"]:
        faults.append("its filled surface differs from the reference")
    if "chain" in library.does:
        given = library.chain(ground, tuple(task["point"]))
        answer = library.told(ground) or given
        faults += check_chain(library, ground, answer, task, facts)
    return {"faults": list(dict.fromkeys(faults)), "facts": facts, "version": told_version(library)}


def check_chain(
    library: Library,
    ground: NDArray[np.float32],
    answer: Answer,
    task: dict[str, Any],
    facts: dict[str, float],
) -> list[str]:
    """Check a chain by laws that hold for any right one, and where it went our way by ours."""
    from geo_site import drainage

    valid, point = ~np.isnan(ground), tuple(task["point"])
    faults = []
    if answer.filled is not None and fingerprint(answer.filled, ground) != task["filled"]:
        faults.append("its filled surface differs from the reference")
    codes = library.directions(ground)
    ours = LIBRARIES["geo_site, 1 thread"]()
    our_cells = ours.chain(ground, point).accumulation
    differ = valid & (codes != ours.directions(ground))
    facts["same_way"] = 1.0 - float(differ.sum() / valid.sum())
    stuck = (codes == 8) & ~drainage.outlet_cells(valid, True)
    if stuck.any():
        faults.append(f"{stuck.sum()} cells of {valid.sum()} do not drain")
    try:
        own = drainage.accumulate(codes, np.ones(ground.shape))
    except ValueError as cycle:
        return [*faults, f"its directions cannot be followed: {cycle}"]
    assert answer.accumulation is not None
    assert our_cells is not None
    cells = np.where(valid, answer.accumulation, 0.0)
    if not np.allclose(cells[valid], own[valid], rtol=1e-6):
        faults.append("its accumulation is not that of its own directions")
    if not np.isclose(cells[codes == 8].sum(), valid.sum(), rtol=1e-6):
        faults.append("what leaves is not what fell")
    clean = valid & ~drainage.contaminated(ours.directions(ground), differ)
    clean &= ~drainage.contaminated(codes, differ)
    facts["compared"] = float(clean.sum() / valid.sum())
    if not np.allclose(cells[clean], our_cells[clean], rtol=1e-6):
        faults.append("its accumulation differs where all directions upstream agree")
    facts["catchment"] = float(own[point] / task["catchment"])
    if library.catches and answer.catchment is not None:
        found = int(np.count_nonzero(answer.catchment))
        if found != int(own[point]):
            faults.append(f"its catchment has {found} cells where its directions give {own[point]}")
    return faults


def told_version(library: Library) -> str:
    """Version of the library as its package says it."""
    try:
        return version(library.package)
    except PackageNotFoundError:
        return ""


def clock(task: dict[str, Any]) -> dict[str, Any]:
    """Time one piece of work once, after the same on a tiny ground."""
    library, point = LIBRARIES[task["library"]](), tuple(task["point"])
    tiny = make_ground("fractal", TINY)
    run(library, task["work"], tiny, (TINY // 2, TINY // 2))
    gc.collect()
    before, children = resident_after_reset(), children_peak()
    ground = np.load(task["file"])
    started, cpu = library_ready(library, ground), spent()
    begun = time.perf_counter()
    answer = run(library, task["work"], ground, point, ready=False)
    wall, used = time.perf_counter() - begun, spent() - cpu
    peak = max(high_water() - before, children_peak() - children if started else 0)
    result = {"wall_s": wall, "cpu_s": used, "peak_bytes": peak}
    if task["work"] == "spread" or (task["work"] == "chain" and answer.filled is None):
        return result
    return {**result, "filled": fingerprint(answer.filled, ground)}


def clock_search(task: dict[str, Any]) -> dict[str, Any]:
    """Time the siting search by one way, after the same on a tiny grid."""
    way = WAYS[task["way"]]()
    search(way, blocked_ground(2 * TINY), task["rotations"])
    blocked = blocked_ground(task["side"])
    gc.collect()
    before, cpu = resident_after_reset(), spent()
    begun = time.perf_counter()
    found = search(way, blocked, task["rotations"])
    wall, used = time.perf_counter() - begun, spent() - cpu
    return {"wall_s": wall, "cpu_s": used, "peak_bytes": high_water() - before, **found}


def library_ready(library: Library, ground: NDArray[np.float32]) -> bool:
    library.ready(ground)
    return type(library).ready is not Library.ready


def run(
    library: Library,
    work: str,
    ground: NDArray[np.float32],
    point: tuple[int, int],
    *,
    ready: bool = True,
) -> Answer:
    """Run a piece of work."""
    if ready:
        library.ready(ground)
    if work == "fill":
        return Answer(library.fill(ground), None, None)
    if work == "spread":
        return Answer(None, library.spread(ground), None)
    return library.chain(ground, point)


def spent() -> float:
    """CPU seconds of this process and of the programs that it ran."""
    both = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in both)


def children_peak() -> int:
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024


def resident_after_reset() -> int:
    """Set the high-water mark back, where the system can, and return what it stands at now."""
    try:
        Path("/proc/self/clear_refs").write_text("5")
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return high_water()


def high_water() -> int:
    """Return the most that this process had resident, in bytes."""
    if STATUS.exists():
        for line in STATUS.read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


if __name__ == "__main__":
    main(Path(sys.argv[1]))
