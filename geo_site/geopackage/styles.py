"""Style files beside the GeoPackage, one per layer."""

from __future__ import annotations

from pathlib import Path

from geo_site.geopackage.sld import as_sld
from geo_site.layers import LAYERS

__all__ = ["write_styles"]


def write_styles(folder: str | Path) -> tuple[Path, ...]:
    """Write ``<layer>.sld`` for every layer.

    Parameters
    ----------
    folder : str or Path
        Made if it is not there.

    Returns
    -------
    tuple of Path
        In the order of the layers.
    """
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    paths = []
    for layer in LAYERS:
        path = target / f"{layer.name}.sld"
        path.write_text(as_sld(layer), encoding="utf-8", newline="\n")
        paths.append(path)
    return tuple(paths)
