"""The mat of a site of polygons with a cover each."""

from __future__ import annotations

from typing import Any

import numpy as np

from spreadsim.errors import MISSING, Said, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.cover_classes import CLASSES, PERCENT, SCALES, cover_allowed, cover_of, scale_of
from spreadsim.inputs.gis_ground import Ground, affordable
from spreadsim.inputs.gis_site import Gis
from spreadsim.inputs.gis_source import Source
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.shares import shares_of
from spreadsim.inputs.vector_checks import overlapping
from spreadsim.inputs.vector_file import Features


def mat_layer(gis: Gis, grid: Grid, ground: Ground) -> np.ndarray | None:
    """Give living cover of mat of polygons, exactly by area.

    Cover is that of the ground in a cell that the vine can grow on; mat beyond it is left out and remarked. Where
    polygons overlap, the higher cover counts.

    Parameters
    ----------
    gis : Gis
        With polygons of mats, each with a cover.
    grid : Grid
        That of the site.
    ground : Ground
        Where the vine can grow.

    Returns
    -------
    float64 (y, x) or None
        None if something is wrong.
    """
    import shapely

    features, source = gis.features["mats"], gis.sources["mats"]
    cover = covers_of(features, source)
    if cover is None or not affordable(gis, "mats", grid):
        return None
    pieces = _apart(features.geometries, cover, source.check)
    if pieces is None:
        return None
    whole = shapely.box(*grid.bounds) if ground.shape is None else ground.shape
    on_ground = _within(pieces, whole)
    lost = float((shapely.area(pieces) * cover).sum() - (shapely.area(on_ground) * cover).sum())
    if lost >= 0.5:
        words = "off the site or on ground that the vine cannot grow on, left out"
        source.check.remark("", f"{lost:,.0f} m2 of mat (area x cover) {words}")
    area = shares_of(on_ground, grid, cover)
    if ground.outline is None:
        return np.asarray(np.clip(area, 0.0, 1.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        of_ground = np.where(ground.outline > 0, area / ground.outline, 0.0)
    cover_there: np.ndarray = np.clip(of_ground, 0.0, 1.0)
    return cover_there


def covers_of(features: Features, source: Source) -> np.ndarray | None:
    """Give the cover of each feature as a share, of its field ``cover`` or the one that the site says.

    Numbers are shares, or percent with ``scale = "percent"`` or the sign %; with the name of a scale of cover classes
    they are the middles of the classes.

    Returns
    -------
    float64 (n,) or None
        None if something is wrong.
    """
    check, scale = source.check, source.said["scale"]
    name = source.said["fields"].get("cover", "cover")
    column = features.field(name)
    if column is None:
        check.add(
            "", Said(f'no field "{name}"'), f"a field with the cover (it has {', '.join(features.fields) or 'none'})"
        )
        return None
    scale = None if scale is None else scale_of(scale)
    if scale is None and source.said["scale"] is not None:
        check.add("scale", source.said["scale"], one_of(SCALES))
        return None
    texts = [_text(value) for value in column]
    numbers = np.array([_number(text) for text in texts])
    if scale is None and not any(text.endswith("%") for text in texts) and np.nanmax([*numbers, 0.0]) > 1:
        hint = f'if it is percent, write mats = {{ file = "{source.path.name}", scale = "{PERCENT}" }}'
        check.add(name, Said(f"numbers up to {np.nanmax(numbers):g}"), f"0 to 1; {hint}")
        return None
    found = [cover_of(text, scale) for text in texts]
    wrong = np.array([value is None for value in found])
    allowed = cover_allowed(scale)
    features.note(check, wrong, lambda k: MISSING if not texts[k] else Said(f'{name} "{texts[k]}"'), allowed)
    for classes in sorted({one.scale for one in found if one is not None} & set(CLASSES)):
        check.remark("", f'cover classes of "{classes}" are taken at their middles')
    return None if wrong.any() else np.array([one.middle for one in found if one is not None], dtype=np.float64)


def _apart(polygons: np.ndarray, cover: np.ndarray, check: Check) -> np.ndarray | None:
    """Take from each polygon what lies under one of higher cover, so that none overlap."""
    import shapely

    order = np.argsort(-cover, kind="stable")
    sorted_ = polygons[order]
    pairs = overlapping(sorted_, check)
    if pairs is None:
        return None
    pieces = sorted_.copy()
    below = pairs[np.argsort(pairs[:, 1], kind="stable")]
    for j in np.unique(below[:, 1]):
        first, last = np.searchsorted(below[:, 1], [j, j + 1])
        pieces[j] = shapely.difference(sorted_[j], shapely.union_all(sorted_[below[first:last, 0]]))
    apart = np.empty_like(pieces)
    apart[order] = pieces
    return apart


def _within(pieces: np.ndarray, ground: Any) -> np.ndarray:
    """Cut pieces off at the edge of the ground."""
    import shapely

    shapely.prepare(ground)
    kept = pieces.copy()
    over = ~shapely.contains_properly(ground, pieces)
    kept[over] = shapely.intersection(pieces[over], ground)
    return kept


def _text(value: object) -> str:
    return "" if value is None else str(value).strip()


def _number(text: str) -> float:
    try:
        return float(text.removesuffix("%"))
    except ValueError:
        return float("nan")
