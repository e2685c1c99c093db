"""Drainage and the siting search against other libraries, side by side, in one command.

``python tests/benchmarks/terrain_scale.py --sides 1000 3000 5000 10000 [--write]``

Each library is first checked on a small ground (filling equal cell for cell, every cell drains,
accumulation conserves, the catchment is what the directions say); one that is wrong is told, not
timed. Then all take turns, each run in a process of its own (`measure.py`). A run that would not
fit the memory or the time that is left, by what the last side took, is told, not tried. With
``--write`` the table goes into docs/performance.md.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PAGE = ROOT / "docs" / "performance.md"
MARKS = ("<!-- measured: begin -->\n", "<!-- measured: end -->\n")
CHECK_SIDE = 600
OURS, OURS_TWO, ROUTER = "geo_site, 1 thread", "geo_site, 2 threads", "pyflwdir"
LIBRARIES = (
    OURS, OURS_TWO, ROUTER, "topotoolbox", "richdem", "fastscapelib", "pysheds", "scikit-image",
    "GRASS GIS",
)  # fmt: skip
WORKS = {"chain": "fill, directions, accumulation, one catchment", "fill": "fill alone",
         "spread": "fill and D-infinity accumulation"}  # fmt: skip
DOES = {"topotoolbox": ("chain", "fill"), ROUTER: ("chain", "fill"), "fastscapelib": ("chain",),
        "scikit-image": ("fill",), "GRASS GIS": ("chain",)}  # fmt: skip
WAYS = (
    "geo_site",
    "FFT, the ground's transform kept (scipy.fft, 2 workers)",
    "FFT in blocks (scipy.signal.oaconvolve)",
    "cv2.erode",
    "skimage.morphology.erosion",
    "scipy.ndimage.binary_erosion",
)
SEARCH_SIDE, SEARCH_TURNS = 2000, 36


@dataclass
class Run:
    """What was asked, what has come of it, and where it is worked on."""

    asked: argparse.Namespace
    folder: Path
    begun: float = field(default_factory=time.monotonic)
    rows: dict[tuple[str, int, str, str], dict[str, Any]] = field(default_factory=dict)
    wrong: dict[str, str] = field(default_factory=dict)
    absent: dict[str, str] = field(default_factory=dict)
    facts: dict[tuple[str, str], dict[str, float]] = field(default_factory=dict)
    grounds: dict[tuple[str, int], dict[str, Any]] = field(default_factory=dict)
    searched: dict[str, dict[str, Any]] = field(default_factory=dict)

    @property
    def left_s(self) -> float:
        return float(self.asked.minutes * 60.0 - (time.monotonic() - self.begun))


def main() -> None:
    """Measure, print, and write if asked."""
    with tempfile.TemporaryDirectory(prefix="terrain-scale-") as folder:
        run = Run(asked=arguments(), folder=Path(folder))
        check_all(run)
        if not run.asked.no_search:
            search_all(run)
        for side in sorted(run.asked.sides):
            for ground in run.asked.grounds:
                measure_all(run, ground, side)
    lines = list(report(run))
    sys.stdout.write("\n".join(lines) + "\n")
    if run.asked.write:
        write_page("\n".join(lines) + "\n")


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--sides", type=int, nargs="+", default=[1000, 3000])
    parser.add_argument("--grounds", nargs="+", default=["fractal", "lidar"])
    parser.add_argument("--libraries", nargs="+", default=list(LIBRARIES), choices=LIBRARIES)
    parser.add_argument("--works", nargs="+", default=list(WORKS), choices=list(WORKS))
    parser.add_argument("--rounds", type=int, default=3, help="at most; fewer on large sides")
    parser.add_argument("--timeout", type=float, default=300.0, help="of one run, s")
    parser.add_argument("--minutes", type=float, default=25.0, help="for everything")
    parser.add_argument("--no-search", action="store_true", help="leave the siting search out")
    parser.add_argument("--write", action="store_true", help="into docs/performance.md")
    return parser.parse_args()


def ask(run: Run, timeout_s: float, **task: Any) -> dict[str, Any]:
    """Do a task in a process of its own."""
    told, result = run.folder / "task.json", run.folder / "result.json"
    told.write_text(json.dumps(task))
    result.unlink(missing_ok=True)
    paths = [str(ROOT), os.environ.get("PYTHONPATH", "")]
    inside = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, paths))}
    command = [sys.executable, "-W", "ignore", str(HERE / "measure.py"), str(told)]
    try:
        done = subprocess.run(
            command, env=inside, timeout=timeout_s, capture_output=True, text=True, check=False
        )
    except subprocess.TimeoutExpired:
        return {"failed": f"stopped after {timeout_s:.0f} s"}
    if result.exists():
        found: dict[str, Any] = json.loads(result.read_text())
        return found
    last = (done.stderr.strip().splitlines() or ["no word"])[-1]
    return {"failed": f"ended with {done.returncode}: {last[:100]}"}


def made(run: Run, ground: str, side: int) -> dict[str, Any]:
    """Make a ground; only the last of each name is kept."""
    say(f"ground {ground}, {side} a side")
    for old in run.folder.glob("*.npy"):
        old.unlink()
    file = str(run.folder / f"{ground}-{side}.npy")
    found = ask(run, 900.0, do="make", ground=ground, side=side, file=file)
    if "failed" in found:
        raise SystemExit(f"the ground could not be made: {found['failed']}")
    return {**found, "file": file}


def check_all(run: Run) -> None:
    """Check each library on each ground; note who is wrong and who is not here."""
    for ground in run.asked.grounds:
        about = made(run, ground, CHECK_SIDE)
        for name in run.asked.libraries:
            if name in run.absent:
                continue
            say(f"check {name}")
            found = ask(run, run.asked.timeout, do="check", library=name, **about)
            if "absent" in found:
                run.absent[name] = found["absent"]
            elif "failed" in found:
                run.wrong[name] = f"{found['failed']} ({ground})"
            elif found["faults"]:
                told = f"{'; '.join(found['faults'])} ({ground} ground, {CHECK_SIDE} a side)"
                run.wrong[name] = "; ".join(filter(None, [run.wrong.get(name), told]))
            run.facts[name, ground] = found.get("facts", {})


def measure_all(run: Run, ground: str, side: int) -> None:
    """Let all take turns on one ground; keep each one's best time and first peak."""
    about = made(run, ground, side)
    run.grounds[ground, side] = about
    rounds = min(run.asked.rounds, 3 if side <= 1000 else 2 if side <= 3000 else 1)
    for turn in range(rounds):
        for work in run.asked.works:
            for name in run.asked.libraries:
                does = work in DOES.get(name, tuple(WORKS))
                if name in run.absent or name in run.wrong or not does:
                    continue
                measure(run, about, (ground, side, work, name), again=turn > 0)


def measure(
    run: Run, about: dict[str, Any], key: tuple[str, int, str, str], *, again: bool
) -> None:
    ground, side, work, name = key
    before = run.rows.get(key, {})
    if again and "wall_s" not in before:
        return
    hindrance = "" if again else foreseen(run, key)
    if hindrance:
        run.rows[key] = {"failed": hindrance}
        return
    say(f"{ground} {side} {work}: {name}")
    most_s = min(run.asked.timeout, max(run.left_s, 10.0))
    found = ask(run, most_s, do="time", library=name, work=work, **about)
    if found.get("filled", about["filled"]) != about["filled"]:
        found = {"failed": "its filled surface differs from the reference"}
    if "wall_s" in found and "wall_s" in before:
        found = min(before, found, key=lambda one: one["wall_s"])
        found["peak_bytes"] = max(found["peak_bytes"], before["peak_bytes"])
    run.rows[key] = found


def foreseen(run: Run, key: tuple[str, int, str, str]) -> str:
    """Say why a run is not tried, by what the next smaller side took; empty if it may be."""
    ground, side, work, name = key
    smaller = [s for g, s, w, n in run.rows if (g, w, n) == (ground, work, name) and s < side]
    if not smaller:
        return "" if run.left_s > 0.0 else "no time left"
    last = run.rows[ground, max(smaller), work, name]
    if "wall_s" not in last:
        return str(last["failed"])
    grows = (side / max(smaller)) ** 2
    bytes_needed, wall_s = last["peak_bytes"] * grows, last["wall_s"] * grows * 1.2
    if bytes_needed > 0.9 * available_bytes():
        return f"not run: would take about {bytes_needed / 2**30:.0f} GiB"
    if wall_s > run.asked.timeout:
        return f"not run: would take about {wall_s:.0f} s"
    if wall_s > run.left_s:
        return "not run: the time for the whole command was up"
    return ""


def available_bytes() -> int:
    for line in Path("/proc/meminfo").read_text().splitlines():
        if line.startswith("MemAvailable:"):
            return int(line.split()[1]) * 1024
    return 8 * 2**30


def search_all(run: Run) -> None:
    """Time the siting search by each way; a way must agree with ours on what it ran."""
    for way in WAYS:
        say(f"search: {way}")
        run.searched[way] = ask(
            run, run.asked.timeout, do="search", way=way, side=SEARCH_SIDE, rotations=SEARCH_TURNS
        )
    ours = run.searched["geo_site"]
    right = dict(zip(ours.get("turns", []), ours.get("hashes", []), strict=True))
    for found in run.searched.values():
        theirs = zip(found.get("turns", []), found.get("hashes", []), strict=True)
        off = [turn for turn, digest in theirs if right.get(turn) != digest]
        if off:
            found["failed"] = f"wrong: another answer at {len(off)} rotations"


def report(run: Run) -> Iterator[str]:
    """Tell it all, in markdown."""
    yield from machine_lines(run)
    for work, meaning in WORKS.items():
        if work in run.asked.works:
            yield from work_lines(run, work, meaning)
    yield from goal_lines(run)
    yield from fault_lines(run)
    if run.searched:
        yield from search_lines(run)


def machine_lines(run: Run) -> Iterator[str]:
    model = [line.split(":", 1)[1].strip() for line in cpu_lines() if line.startswith("model name")]
    total = int(Path("/proc/meminfo").read_text().split()[1]) / 2**20
    commit = [*git("rev-parse", "--short", "HEAD"), "(no commit)"][0]
    changed = " with changes" if git("status", "--porcelain", "--", "geo_site") else ""
    packages = ["numpy", "numba", "scipy", "pyflwdir", "topotoolbox", "py-richdem", "fastscapelib"]
    packages += ["pysheds", "scikit-image", "opencv-python-headless"]
    told = [f"{one} {number}" for one in packages if (number := installed(one))]
    yield (
        f"{datetime.now(UTC):%Y-%m-%d}, commit {commit}{changed}. {len(model) or os.cpu_count()} "
        f"cores of {model[0] if model else platform.processor()}, {total:.1f} GiB of memory; "
        f"{platform.system()} {platform.release().split('-')[0]}, "
        f"Python {platform.python_version()}. "
        f"{', '.join(told)}. Load when it ended: {os.getloadavg()[1]:.1f} over five minutes."
    )
    yield ""
    for (ground, side), about in run.grounds.items():
        valid = about["valid"]
        yield (
            f"- {ground} ground, {side:,} a side: {valid:,} cells with data, "
            f"{about['raised'] / valid:.1%} raised by filling; catchment of "
            f"{about['catchment']:,} cells"
        )
    yield ""


def cpu_lines() -> list[str]:
    return Path("/proc/cpuinfo").read_text().splitlines()


def git(*words: str) -> list[str]:
    done = subprocess.run(
        ["git", "-C", str(ROOT), *words], capture_output=True, text=True, check=False
    )
    return done.stdout.split("\n")[:1] if done.stdout.strip() else []


def installed(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return ""


def work_lines(run: Run, work: str, meaning: str) -> Iterator[str]:
    """A table of one piece of work: wall and CPU time per cell, peak memory, times ours."""
    yield f"### {meaning[0].upper()}{meaning[1:]}"
    yield ""
    yield "| ground | side | library | ns/cell | CPU ns/cell | B/cell | times ours on 1 thread |"
    yield "|---|--:|---|--:|--:|--:|--:|"
    for (ground, side, kind, name), found in run.rows.items():
        if kind != work:
            continue
        if "wall_s" not in found:
            yield f"| {ground} | {side:,} | {name} | {found.get('failed')} | | | |"
            continue
        cells = side * side
        ours = run.rows.get((ground, side, work, OURS), {}).get("wall_s")
        times = "" if ours is None else f"{found['wall_s'] / ours:.1f}"
        yield (
            f"| {ground} | {side:,} | {name} | {found['wall_s'] / cells * 1e9:.0f} | "
            f"{found['cpu_s'] / cells * 1e9:.0f} | {found['peak_bytes'] / cells:.1f} | {times} |"
        )
    yield ""


def goal_lines(run: Run) -> Iterator[str]:
    """What was aimed at, and what was measured, for the chain."""
    if "chain" not in run.asked.works or not run.rows:
        return
    yield "### Aims, for the chain"
    yield ""
    for ours in (OURS, OURS_TWO):
        for ground in run.asked.grounds:
            for text, reached in goals(run, ground, ours):
                yield f"- {ours}, {ground}: {text}: {'reached' if reached else 'missed'}"
    yield ""


def goals(run: Run, ground: str, ours: str) -> Iterator[tuple[str, bool]]:
    timed = {
        (side, name): found
        for (where, side, work, name), found in run.rows.items()
        if (where, work) == (ground, "chain") and "wall_s" in found
    }
    sides = sorted(side for side, name in timed if name == ours)
    if not sides:
        return
    for side in sides:
        mine = timed[side, ours]["wall_s"]
        others = {
            name: found["wall_s"] / mine
            for (at, name), found in timed.items()
            if at == side and name not in (OURS, OURS_TWO)
        }
        if others:
            near = min(others, key=lambda name: others[name])
            told = f"{side:,} a side, the fastest right library ({near}) takes {others[near]:.1f}"
            yield f"{told} times as long (aim 4)", others[near] >= 4.0
        if ROUTER in others:
            told = f"{side:,} a side, {ROUTER} takes {others[ROUTER]:.1f} times as long (aim 8)"
            yield told, others[ROUTER] >= 8.0
        bytes_each = timed[side, ours]["peak_bytes"] / side**2
        told = f"{side:,} a side, {bytes_each:.1f} B/cell with the ground's own 4 (aim 16)"
        yield told, bytes_each <= 16.0
    each = [timed[side, ours]["wall_s"] / side**2 for side in sides]
    if len(sides) > 1:
        apart = each[-1] / each[0] - 1.0
        told = f"{apart:+.0%} per cell from {sides[0]:,} to {sides[-1]:,} a side (aim 25 % at most)"
        yield told, apart <= 0.25


def fault_lines(run: Run) -> Iterator[str]:
    """Who was wrong, who was not here, and how far directions agree."""
    yield "### Checked first"
    yield ""
    for name, fault in run.wrong.items():
        yield f"- {name}: **wrong, not timed**: {fault}"
    for name, why in run.absent.items():
        yield f"- {name}: not run ({why})"
    for (name, ground), facts in run.facts.items():
        if not facts or name in run.wrong or name in (OURS, OURS_TWO):
            continue
        yield (
            f"- {name}, {ground}: {facts['same_way']:.0%} of directions as ours; accumulation "
            f"equal on the {facts['compared']:.0%} of cells with only such ones upstream; the "
            f"asked cell drains {facts['catchment']:.3f} of ours"
        )
    yield ""


def search_lines(run: Run) -> Iterator[str]:
    """A table of the siting search."""
    yield f"### Siting search, {SEARCH_SIDE:,} a side, {SEARCH_TURNS} rotations"
    yield ""
    yield "| way | rotations run | s for all | CPU s for all | peak MB | times ours |"
    yield "|---|--:|--:|--:|--:|--:|"
    ours = run.searched["geo_site"].get("wall_s")
    for way, found in run.searched.items():
        if "wall_s" not in found or "failed" in found:
            yield f"| {way} | {found.get('failed') or found.get('absent')} | | | | |"
            continue
        ran = len(found["turns"])
        wall, used = (found[which] * SEARCH_TURNS / ran for which in ("wall_s", "cpu_s"))
        times = "" if ours is None else f"{wall / ours:.1f}"
        yield (
            f"| {way} | {ran} | {wall:.2f} | {used:.2f} | {found['peak_bytes'] / 1e6:.0f} | "
            f"{times} |"
        )
    yield ""


def write_page(text: str) -> None:
    """Put the measured part between its marks on the page."""
    begin, end = MARKS
    page = PAGE.read_text(encoding="utf-8")
    head, rest = page.split(begin)
    _, tail = rest.split(end)
    PAGE.write_text(f"{head}{begin}\n{text}\n{end}{tail}", encoding="utf-8")


def say(word: str) -> None:
    sys.stderr.write(f"... {word}\n")


if __name__ == "__main__":
    main()
