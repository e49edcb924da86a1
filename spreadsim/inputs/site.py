"""A site: the ground, its layers, its hosts and the seed that comes from outside."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from spreadsim.inputs.arrays import Frozen, freeze
from spreadsim.inputs.boundary import boundary_layer
from spreadsim.inputs.checks import Check
from spreadsim.inputs.hosts import Hosts, Sources, make_hosts, make_sources
from spreadsim.inputs.site_checks import MOST_UNITS, as_origin, checked_layers, names_of_units
from spreadsim.inputs.site_hash import hash_of_site

if TYPE_CHECKING:
    from spreadsim.inputs.survey import Survey


@dataclass(frozen=True, eq=False)
class Site(Frozen):
    """The ground simulated. Make one with `from_arrays` or `read_site`, which check.

    Attributes
    ----------
    cell_size : float
        Side of a cell, m.
    ny, nx : int
        Rows and columns.
    mat : float64 (y, x)
        Living cover of mat, 0-1; row 0 in the north, as in all layers.
    canopy : float64 (y, x)
        Canopy cover, 0-1.
    plantable : float64 (y, x)
        Share of the ground that the vine can grow on; 0 is a barrier.
    unit : int16 (y, x)
        Number of the unit, 0 for none; unit k is called ``unit_names[k - 1]``.
    unit_names : tuple of str
        Names of the units.
    access : float64 (y, x)
        Factor on hours of work, above 0.
    wetness : float64 (y, x)
        0 dry to 1 wet.
    sensitive : bool (y, x)
        Sensitive ground: no spray.
    boundary_mat : bool (y, x)
        True on cells at the edge across whose outer side mat stands; never on a barrier.
    hosts : Hosts
        What can be climbed.
    sources : Sources
        Seed sources that are no host here.
    background_seed : float
        Seed that birds bring from unmapped sources, per ha and year.
    crs : str or None
        Coordinate reference system, such as ``"EPSG:26910"``.
    origin : tuple of two floats
        Coordinates of the south-west corner, m.
    title, notice : str
        Name for people, and what must be said wherever it is shown.
    remarks : tuple of str
        What was noticed when the site was read and stops nothing: what was assumed, filled in or left out. It
        decides no number.
    totals : tuple of (str, float)
        What the steward knows the site to have (`totals_of`): areas in m2, counts; it decides no number.
    survey : Survey or None
        Records of where people looked, to be held against the map; they decide no number and are not embedded.
    """

    cell_size: float
    ny: int
    nx: int
    mat: np.ndarray
    canopy: np.ndarray
    plantable: np.ndarray
    unit: np.ndarray
    unit_names: tuple[str, ...]
    access: np.ndarray
    wetness: np.ndarray
    sensitive: np.ndarray
    boundary_mat: np.ndarray
    hosts: Hosts
    sources: Sources
    background_seed: float = 0.0
    crs: str | None = None
    origin: tuple[float, float] = (0.0, 0.0)
    title: str = ""
    notice: str = ""
    remarks: tuple[str, ...] = ()
    totals: tuple[tuple[str, float], ...] = ()
    survey: Survey | None = None

    # The parts given one by one are the interface that others call.
    @classmethod
    def from_arrays(
        cls,
        cell_size: float,
        *,
        mat: Any = None,
        canopy: Any = None,
        plantable: Any = None,
        hosts: Mapping[str, Any] | None = None,
        units: Any = None,
        access: Any = None,
        wetness: Any = None,
        sensitive: Any = None,
        sources: Mapping[str, Any] | None = None,
        crs: str | None = None,
        unit_names: Sequence[str] | None = None,
        title: str = "",
        notice: str = "",
        origin: tuple[float, float] = (0.0, 0.0),
        background_seed: float = 0.0,
        boundary_mat: Any = None,
        remarks: Sequence[str] = (),
    ) -> Site:
        """Make a site of arrays.

        Parameters
        ----------
        cell_size : float
            Side of a cell, m; 1 to 10 is what the model is checked for, 0.1 to 100 is allowed.
        mat, canopy, plantable, units, access, wetness, sensitive : arrays (y, x), optional
            Layers, row 0 in the north, at least one of them; all of one shape. Without `mat` there is none,
            without `canopy` full light, without `plantable` the vine can grow everywhere, without `units`
            none, without `access` factor 1. Mat on a barrier is left out: nothing stands there.
        hosts : mapping of equal-length arrays, optional
            ``x``, ``y`` (m from the south-west corner) and any of ``state`` ("bare", "climbing",
            "fruiting"), ``kind``, ``girth``, ``top_light`` (0-1), ``height`` (m), ``years_climbing``,
            ``known``, ``uncertainty`` (m), ``placed`` (at random, known only as one of a count).
        sources : mapping of equal-length arrays, optional
            ``x``, ``y`` (may lie outside) and ``hosts`` (how many fruiting hosts each is worth).
        crs : str, optional
            Coordinate reference system.
        unit_names : sequence of str, optional
            Names of units 1, 2, ...; ``"unit 1"`` and so on if not given.
        title, notice : str
            Name for people, and what must be said wherever the site is shown.
        origin : two floats
            Coordinates of the south-west corner, m.
        background_seed : float
            Seeds per ha and year from unmapped sources.
        boundary_mat : array (y, x), or mapping, optional
            Where mat stands across the boundary: an array of true and false, true at the edge only; or by side
            ("north", "south", "east", "west") True, or a list of (from, to) in metres along the side, from the
            west or the south.
        remarks : sequence of str
            What should be looked at, one text each.

        Returns
        -------
        Site

        Raises
        ------
        InputError
            Everything that is wrong: shapes that differ, values that are not finite or out of bounds,
            hosts off the site, words that are not known.
        """
        check = Check("Site")
        size = check.number("cell_size", cell_size, 0.1, 100)
        given = {"mat": mat, "canopy": canopy, "plantable": plantable, "units": units, "access": access}
        layers = checked_layers(check, given | {"wetness": wetness, "sensitive": sensitive})
        ground, shade, number = layers["plantable"], layers["canopy"], layers["units"]
        shape = (ground.shape[0], ground.shape[1])
        across = boundary_layer(check, boundary_mat, shape, size)
        site = cls(
            cell_size=size,
            ny=shape[0],
            nx=shape[1],
            mat=freeze(np.where(ground > 0, layers["mat"], 0.0)),
            canopy=freeze(shade),
            plantable=freeze(ground),
            unit=freeze(np.where(np.isfinite(number), np.clip(number, 0, MOST_UNITS), 0), np.int16),
            unit_names=names_of_units(check, number, unit_names),
            access=freeze(layers["access"]),
            wetness=freeze(layers["wetness"]),
            sensitive=freeze(layers["sensitive"] != 0, bool),
            boundary_mat=freeze(across & (ground > 0), bool),
            hosts=make_hosts(check, hosts, shade, size),
            sources=make_sources(check, sources),
            background_seed=check.number("background_seed", background_seed, 0, 1e9),
            crs=None if crs is None else check.text("crs", crs, empty=False),
            origin=as_origin(check, origin),
            title=check.text("title", title),
            notice=check.text("notice", notice),
            remarks=check.words("remarks", remarks),
        )
        check.done()
        return site

    @cached_property
    def identity(self) -> str:
        """SHA-256 of all that decides a number: what was made for one site is told from another's."""
        return hash_of_site(self)

    @property
    def width(self) -> float:
        """Extent from west to east, m."""
        return self.nx * self.cell_size

    @property
    def height(self) -> float:
        """Extent from south to north, m."""
        return self.ny * self.cell_size

    @property
    def area(self) -> float:
        """Area with all that lies in it, m2."""
        return self.width * self.height
