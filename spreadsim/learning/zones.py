"""What of a mat counts as new: how far from the mats of the map, and which pieces are one patch."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from spreadsim.inputs import Site
from spreadsim.inputs.survey_remarks import NEAR

BLOCK = NEAR  # m: mat in blocks of this size, side by side or corner to corner, is one patch
EDGES = (30.0, 100.0)  # m from the mats of the map: near, farther, far new patches
CLASSES = (
    f"{NEAR:g} to {EDGES[0]:g} m from the mats of the map",
    f"{EDGES[0]:g} to {EDGES[1]:g} m from the mats of the map",
    f"more than {EDGES[1]:g} m from the mats of the map",
)


class Patches(NamedTuple):
    """New patches of some cells."""

    of_cell: Any  # number of the patch of each cell given, from 0
    distance: Any  # class of each patch, see CLASSES


class Zones:
    """Distances from the mats of a map, and blocks, for each cell of a site.

    A patch is new where no mat of the map lies within 10 m of it; nearer than that, a record can't tell a patch of
    its own from the old mat's edge, nor can people who look again.

    Parameters
    ----------
    site
        With the map.
    """

    def __init__(self, site: Site) -> None:
        from scipy.ndimage import distance_transform_edt

        mapped = site.mat > 0
        if mapped.any():
            self.distance = distance_transform_edt(~mapped, sampling=site.cell_size).ravel()
        else:
            self.distance = np.full(mapped.size, np.inf)
        self.old = self.distance <= NEAR
        row, column = np.divmod(np.arange(mapped.size), site.nx)
        rows, columns = (np.floor((line + 0.5) * site.cell_size / BLOCK).astype("i8") for line in (row, column))
        self._shape = (int(rows.max()) + 1, int(columns.max()) + 1)
        self._block = rows * self._shape[1] + columns

    def patches(self, cells: Any) -> Patches:
        """Put cells of new mat together into patches.

        Parameters
        ----------
        cells
            Numbers of cells, none of them old.
        """
        from scipy.ndimage import label

        mask = np.zeros(self._shape[0] * self._shape[1], bool)
        mask[self._block[cells]] = True
        marks, count = label(mask.reshape(self._shape), structure=np.ones((3, 3)))
        of_cell = marks.ravel()[self._block[cells]] - 1
        nearest = np.full(count, np.inf)
        np.minimum.at(nearest, of_cell, self.distance[cells])
        return Patches(of_cell, np.digitize(nearest, EDGES, right=True))
