"""Open a plan in a desktop GIS, by hand: ``python3 tests/open_in_gis.py PLAN_FOLDER PICTURE.png``.

Not part of the suite: it needs the Python modules of a desktop GIS that reads QML and SLD (``qgis``
3.22 or later), which no package index brings. It loads every layer with its file in ``styles``,
then with its style in ``plan.gpkg``, says what was not understood, and draws the plan at 1:200 in
the order of the looks.
"""

# ruff: noqa: T201

from __future__ import annotations

import os
import sys
from pathlib import Path

SCALE, DOTS_PER_INCH = 200.0, 130.0


def main(folder: Path, picture: Path) -> int:
    from qgis.core import (
        QgsApplication,
        QgsMapRendererParallelJob,
        QgsMapSettings,
        QgsUnitTypes,
        QgsVectorLayer,
    )
    from qgis.PyQt.QtCore import QSize

    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    application = QgsApplication([], False)
    application.initQgis()
    faults, layers = 0, []
    for name in drawing_order():
        layer = QgsVectorLayer(f"{folder / 'plan.gpkg'}|layername={name}", name, "ogr")
        sld = layer.loadSldStyle(str(folder / "styles" / f"{name}.sld"))
        qml = layer.loadDefaultStyle()
        for kind, (told, is_read) in (("sld", sld), ("qml", qml)):
            if not layer.isValid() or not is_read:
                faults += 1
                print(f"{name}: {kind}: {told}")
        drawn = layer.renderer().symbols(_context()) if layer.renderer() else []
        print(f"{name}: {layer.featureCount()} features, {len(drawn)} symbols")
        layers.append(layer)
    lot = next(layer for layer in layers if layer.name() == "parcel")
    settings = QgsMapSettings()
    settings.setLayers(layers[::-1])  # the first of the list lies on top
    settings.setDestinationCrs(lot.crs())
    around = lot.extent()
    around.grow(0.05 * around.width())
    unit_m = QgsUnitTypes.fromUnitToUnitFactor(lot.crs().mapUnits(), QgsUnitTypes.DistanceMeters)
    dots = DOTS_PER_INCH / 0.0254 * unit_m / SCALE
    settings.setOutputDpi(DOTS_PER_INCH)
    settings.setOutputSize(QSize(int(around.width() * dots), int(around.height() * dots)))
    settings.setExtent(around)
    job = QgsMapRendererParallelJob(settings)
    job.start()
    job.waitForFinished()
    faults += len(job.errors())
    job.renderedImage().save(str(picture))
    print(f"{picture}: 1:{settings.scale():.0f}, {faults} faults")
    application.exitQgis()
    return min(faults, 1)


def _context() -> object:
    from qgis.core import QgsRenderContext

    return QgsRenderContext()


def drawing_order() -> tuple[str, ...]:
    """Read the order from the source: that Python need not have our libraries."""
    import ast

    source = Path(__file__).parent.parent / "geo_site" / "layers" / "looks.py"
    for node in ast.parse(source.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "DRAWING_ORDER":
            return tuple(ast.literal_eval(node.value))
    raise LookupError("no drawing order")


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
