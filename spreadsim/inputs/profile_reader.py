"""Reading the vine and the treatments that an experiment names, with the values that it changes."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from spreadsim.errors import InputError, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.cross_checks import check_names
from spreadsim.inputs.paths import beside
from spreadsim.inputs.treatment import Treatment
from spreadsim.inputs.treatment_file import load_treatment, treatment_names
from spreadsim.inputs.vine import Vine, load_vine, vine_names

_NAMES = "a parameter of the vine (mat.front_speed) or of a treatment (cut.stem_kill)"


class ProfileReader:
    """Reads profiles, noting everything that is wrong; one that is wrong is None.

    Parameters
    ----------
    folder : Path
        Where the experiment lies, and own profiles with it.
    check : Check
        Where to note.
    """

    def __init__(self, folder: Path, check: Check) -> None:
        self.folder, self.check = folder, check

    def vine(self, name: object) -> Vine | None:
        """Load the vine."""
        made: Vine | None = self._load(load_vine, name, vine_names(), "vine")
        return made

    def treatments(self, names: list[str]) -> list[Treatment | None]:
        """Load the experiment's own treatments."""
        shipped = treatment_names()
        own = [self._load(load_treatment, name, shipped, f"treatments[{k}]") for k, name in enumerate(names)]
        check_names(self.check, "treatments", own)
        return own

    def parameters(
        self, values: Mapping[str, Any], vine: Vine | None, treatments: list[Treatment | None]
    ) -> tuple[Vine | None, list[Treatment | None]]:
        """Replace values of the vine, and of treatments, which then become own ones."""
        of_vine: dict[str, Any] = {}
        of_treatments: dict[str, dict[str, Any]] = {}
        own = {one.name: one for one in treatments if one is not None}
        for full, value in _flat(values).items():
            first, _, rest = full.partition(".")
            if first in own or first in treatment_names():
                of_treatments.setdefault(first, {})[rest] = value
            elif full not in (vine or load_vine(vine_names()[0])).parameters:
                self.check.add(f"parameters.{full}", value, _NAMES)
            else:
                of_vine[full] = value
        vine = None if vine is None else self._replaced(vine, of_vine, "parameters")
        for name, changes in of_treatments.items():
            old = own.get(name) or load_treatment(name)
            changed = self._replaced(old, changes, f"parameters.{name}")
            treatments = [one for one in treatments if one is None or one.name != name] + [changed or old]
        return vine, treatments

    def _load(self, load: Any, name: object, shipped: tuple[str, ...], place: str) -> Any:
        """Load a profile that is shipped or lies beside the experiment."""
        if not isinstance(name, str):  # noted already
            return None
        if name in shipped:
            return load(name)
        if not name.endswith(".toml"):
            self.check.add(place, name, f"{one_of(shipped)}, or the path of a TOML file")
            return None
        path = beside(self.folder, name, self.check, place)
        try:
            return None if path is None else load(path)
        except InputError as error:
            self.check.problems.absorb(error)
            return None

    def _replaced(self, profile: Any, values: Mapping[str, Any], place: str) -> Any:
        try:
            return profile.replace(values) if values else profile
        except InputError as error:
            self.check.problems.absorb(error, file=self.check.thing, place=place)
            return None


def _flat(values: Mapping[str, Any]) -> dict[str, Any]:
    """Give parameters by full name, whether the file has "mat.front_speed" in quotes or not."""
    flat: dict[str, Any] = {}
    for key, value in values.items():
        if "." not in key and isinstance(value, Mapping):
            flat |= {f"{key}.{inner}": item for inner, item in value.items()}
        else:
            flat[key] = value
    return flat
