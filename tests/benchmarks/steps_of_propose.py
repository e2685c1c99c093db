"""Time of each step of `propose`: ``python tests/benchmarks/steps_of_propose.py``.

On the two samples: reading, every step that `propose` announces, and writing; wall and CPU
seconds, the median of `--rounds` runs in one warm process.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

import geo_site  # noqa: E402

SAMPLES = ("hillside", "lidar")
Times = dict[str, list[tuple[float, float]]]


class Watch:
    """Adds up wall and CPU time by the word that was said last."""

    def __init__(self) -> None:
        self.word, self.since = "", (0.0, 0.0)
        self.spent: dict[str, tuple[float, float]] = {}

    def __call__(self, word: str) -> None:
        now = (time.perf_counter(), time.process_time())
        if self.word:
            wall, cpu = self.spent.get(self.word, (0.0, 0.0))
            self.spent[self.word] = (wall + now[0] - self.since[0], cpu + now[1] - self.since[1])
        self.word, self.since = word, now


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--rounds", type=int, default=5)
    rounds = parser.parse_args().rounds
    for sample in SAMPLES:
        show(sample, timed(ROOT / "sample_data" / sample / "site.toml", rounds))


def timed(site_file: Path, rounds: int) -> Times:
    """Run warm, then so many rounds."""
    times: Times = defaultdict(list)
    once(site_file)
    for _ in range(rounds):
        spent = once(site_file)
        whole = (sum(wall for wall, _ in spent.values()), sum(cpu for _, cpu in spent.values()))
        for word, pair in {**spent, "all": whole}.items():
            times[word].append(pair)
    return times


def once(site_file: Path) -> dict[str, tuple[float, float]]:
    watch = Watch()
    with tempfile.TemporaryDirectory() as folder:
        watch("reading")
        site = geo_site.read_site(site_file)
        plan = geo_site.propose(site, progress=watch)
        watch("writing")
        geo_site.write_plan(plan, Path(folder) / "out")
        watch("")
    return watch.spent


def show(sample: str, times: Times) -> None:
    sys.stdout.write(f"{sample:12} {'wall, s':>9} {'CPU, s':>9}\n")
    for word, pairs in times.items():
        wall, cpu = (median(pair[which] for pair in pairs) for which in (0, 1))
        sys.stdout.write(f"{word:12} {wall:9.2f} {cpu:9.2f}\n")


if __name__ == "__main__":
    main()
