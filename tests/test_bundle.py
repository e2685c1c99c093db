"""The output folder: all or nothing, and never over what is not ours."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from made_sites import make_site
from shapely.geometry import box

import geo_site.bundle as bundle_module
from geo_site.bundle import OUTPUT_NAMES, check_target, write_plan
from geo_site.errors import OutputRefused
from geo_site.plan import Plan, propose

WHEN_THERE = {"costs.csv", "alternatives.csv", "changes.csv"}  # no prices, one plan, nothing drawn


@pytest.fixture(scope="module")
def plan() -> Plan:
    """A small plan."""
    tables = {"siting": {"units": 6, "shortlist": 1, "candidates": 1, "rotation_step": 45.0}}
    return propose(make_site("plane", lot=box(0, 0, 30, 25), tables=tables))


def test_everything_is_there_and_nothing_else(plan: Plan, tmp_path: Path) -> None:
    written = write_plan(plan, tmp_path / "out")
    assert {path.name for path in written} == OUTPUT_NAMES - WHEN_THERE
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o755


def test_same_plan_same_bytes(plan: Plan, tmp_path: Path) -> None:
    write_plan(plan, tmp_path / "a")
    write_plan(plan, tmp_path / "b")
    files = sorted(p.relative_to(tmp_path / "a") for p in (tmp_path / "a").rglob("*.*"))
    assert len(files) > 30
    for file in files:
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes(), file


def test_an_earlier_plan_needs_the_word(plan: Plan, tmp_path: Path) -> None:
    write_plan(plan, tmp_path / "out")
    with pytest.raises(OutputRefused, match="--overwrite"):
        write_plan(plan, tmp_path / "out")
    write_plan(plan, tmp_path / "out", overwrite=True)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_folder_with_other_files_is_left_alone(plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "thesis.odt").write_text("years of work", encoding="utf-8")
    with pytest.raises(OutputRefused, match=r"thesis\.odt"):
        write_plan(plan, tmp_path, overwrite=True)
    assert (tmp_path / "thesis.odt").read_text(encoding="utf-8") == "years of work"


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("", encoding="utf-8")
    with pytest.raises(OutputRefused, match="is a file"):
        check_target(tmp_path / "out", overwrite=True)


def test_an_interrupted_run_leaves_the_old_plan_whole(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_plan(plan, tmp_path / "out")
    before = (tmp_path / "out" / "plan.gpkg").read_bytes()

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(bundle_module, "write_quantities", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_plan(plan, tmp_path / "out", overwrite=True)
    assert (tmp_path / "out" / "plan.gpkg").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_full_disk_is_told(plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(bundle_module, "write_clearances", full)
    with pytest.raises(OutputRefused, match="No space left on device"):
        write_plan(plan, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_door_that_fails_names_the_target(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: Plan, path: Path) -> None:
        raise OutputRefused(f"{path}: cannot be written: database or disk is full")

    monkeypatch.setattr(bundle_module, "write_geopackage", full)
    with pytest.raises(OutputRefused) as refused:
        write_plan(plan, tmp_path / "out")
    assert str(refused.value).startswith(str(tmp_path / "out" / "plan.gpkg"))


def test_a_failed_rename_puts_the_old_plan_back(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_plan(plan, tmp_path / "out")
    before = (tmp_path / "out" / "plan.json").read_bytes()
    rename = Path.rename

    def stumble(self: Path, target: Path) -> Path:
        if self.name.startswith(".out-") and Path(target).name == "out":
            raise OSError(5, "Input/output error")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", stumble)
    with pytest.raises(OutputRefused, match="Input/output error"):
        write_plan(plan, tmp_path / "out", overwrite=True)
    assert (tmp_path / "out" / "plan.json").read_bytes() == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root writes anywhere")
def test_a_read_only_parent_is_refused(plan: Plan, tmp_path: Path) -> None:
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(OutputRefused, match="cannot be written"):
            write_plan(plan, tmp_path / "out")
    finally:
        tmp_path.chmod(0o755)


def test_a_parent_that_is_a_file_is_refused(plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(OutputRefused, match="cannot be written"):
        write_plan(plan, tmp_path / "file" / "out")
