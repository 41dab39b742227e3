"""Balance of the zones in a step, once walls and sheets are folded into it."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.engine.exchange import InnerFaces, SheetFaces
from restcab.engine.network import Network
from restcab.physics.arrays import BoolArray, FloatArray

_MASS_FLOOR_KG = 1e-9
"""Keeps the moisture balance of a zone without volume solvable."""


class ZoneFlows(NamedTuple):
    """Air streams of a step, shape (n_zone, n_case) and (n_case,)."""

    leak_w_per_k: FloatArray
    leak_kg_per_s: FloatArray
    mix_w_per_k: FloatArray
    mix_kg_per_s: FloatArray


@dataclass(frozen=True)
class ZoneBalance:
    """Linear balance of zone air, radiant nodes and vapour for given films and streams.

    The same coefficients serve the cab as a whole and, with a first axis more, each origin of its
    heat.

    Parameters
    ----------
    net, incidence, step_s
        The cab, its surfaces by zone (n_zone, n_surface), the step [s].
    capacity_j_per_k, air_mass_kg
        Of the zone air, shape (n_zone, n_case).
    face_diag
        Diagonal of the inner faces, all behind them folded in [W/K], shape (n_surface, n_case).
    inner, sheets, streams
        Films, partitions and air streams of the step.
    """

    net: Network
    incidence: FloatArray
    step_s: float
    capacity_j_per_k: FloatArray
    air_mass_kg: FloatArray
    face_diag: FloatArray
    inner: InnerFaces
    sheets: list[SheetFaces]
    streams: ZoneFlows

    def heat_matrix(self) -> FloatArray:
        """Zone air first, then radiant nodes, shape (2 n_zone, 2 n_zone, n_case)."""
        n_zone = self.net.n_zone
        to_air, to_radiant = self.inner
        air_share, radiant_share = to_air / self.face_diag, to_radiant / self.face_diag
        matrix = np.zeros((2 * n_zone, 2 * n_zone, self.face_diag.shape[-1]))
        at = np.arange(n_zone)
        matrix[at, at] = (
            self.capacity_j_per_k / self.step_s
            + self.streams.leak_w_per_k
            + self.incidence @ (to_air - to_air * air_share)
        )
        matrix[at + n_zone, at + n_zone] = self.incidence @ (
            to_radiant - to_radiant * radiant_share
        )
        cross = -(self.incidence @ (to_air * radiant_share))
        matrix[at, at + n_zone] = cross
        matrix[at + n_zone, at] = cross
        for index, faces in enumerate(self.sheets):
            self._join_sheet(matrix, index, faces)
        if n_zone == 2:
            matrix[at, at] += self.streams.mix_w_per_k
            matrix[at, at[::-1]] -= self.streams.mix_w_per_k
        return matrix

    def heat_sources(
        self, face_rhs: FloatArray, air: FloatArray, sheets: FloatArray, to_air_w: FloatArray,
        to_radiant_w: FloatArray,
    ) -> FloatArray:  # fmt: skip
        """Right-hand side, shape (..., 2 n_zone, n_case).

        Parameters
        ----------
        face_rhs
            Of the inner faces, all behind them folded in, shape (..., n_surface, n_case) [W].
        air, sheets
            Zone air and partitions before the step, shape (..., n_zone or n_partition, n_case).
        to_air_w, to_radiant_w
            Heat put into the zones, shape (..., n_zone, n_case).
        """
        over_diag = face_rhs / self.face_diag
        heat = self.capacity_j_per_k / self.step_s * air + to_air_w
        found = np.concatenate(
            [
                heat + self.incidence @ (self.inner.to_air_w_per_k * over_diag),
                to_radiant_w + self.incidence @ (self.inner.to_radiant_w_per_k * over_diag),
            ],
            axis=-2,
        )
        for index, faces in enumerate(self.sheets):
            diag, capacity = self._sheet_row(index, faces)
            stored = capacity * sheets[..., index, :]
            for row, path in zip(*self._sheet_paths(index, faces), strict=True):
                found[..., row, :] += path / diag * stored
        return found

    def vapour_matrix(self) -> FloatArray:
        """Humidity ratios of the zones, shape (n_zone, n_zone, n_case)."""
        n_zone = self.net.n_zone
        matrix = np.zeros((n_zone, n_zone, self.face_diag.shape[-1]))
        at = np.arange(n_zone)
        matrix[at, at] = self._mass_kg_per_s + self.streams.leak_kg_per_s
        if n_zone == 2:
            matrix[at, at] += self.streams.mix_kg_per_s
            matrix[at, at[::-1]] -= self.streams.mix_kg_per_s
        return matrix

    def vapour_sources(self, humidity_ratio: FloatArray, added_kg_per_s: FloatArray) -> FloatArray:
        """Right-hand side from the humidity before the step and what is added, (..., n_zone, .)."""
        return np.asarray(self._mass_kg_per_s * humidity_ratio + added_kg_per_s)

    @property
    def _mass_kg_per_s(self) -> FloatArray:
        return np.maximum(self.air_mass_kg, _MASS_FLOOR_KG) / self.step_s

    def fill_sheets(self, sheets_c: FloatArray, zones: FloatArray) -> None:
        """Partition temperatures from air and radiant nodes on either side, ``(..., 2 n_zone, .)``.

        Changes ``sheets_c`` in place.
        """
        for index, faces in enumerate(self.sheets):
            diag, capacity = self._sheet_row(index, faces)
            heat = capacity * sheets_c[..., index, :]
            for place, path in zip(*self._sheet_paths(index, faces), strict=True):
                heat = heat + path * zones[..., place, :]
            sheets_c[..., index, :] = heat / diag

    def _join_sheet(self, matrix: FloatArray, index: int, faces: SheetFaces) -> None:
        """Add a partition, its own temperature eliminated, to the zone matrix."""
        n_zone = self.net.n_zone
        diag, _ = self._sheet_row(index, faces)
        places, paths = self._sheet_paths(index, faces)
        for row, path in zip(places, paths, strict=True):
            share = path / diag
            matrix[row, row] += path
            for column, other in zip(places, paths, strict=True):
                matrix[row, column] -= share * other
        for side, zone in enumerate(self.net.partitions[index].zones):
            direct = faces.air_to_radiant_w_per_k[side]
            for a, b in ((zone, zone + n_zone), (zone + n_zone, zone)):
                matrix[a, a] += direct
                matrix[a, b] -= direct

    def _sheet_paths(self, index: int, faces: SheetFaces) -> tuple[list[int], list[FloatArray]]:
        """Unknowns a partition touches and its conductance to each."""
        n_zone = self.net.n_zone
        zones = self.net.partitions[index].zones
        places = [*zones, *(zone + n_zone for zone in zones)]
        return places, [*faces.to_air_w_per_k, *faces.to_radiant_w_per_k]

    def _sheet_row(self, index: int, faces: SheetFaces) -> tuple[FloatArray, float]:
        """Diagonal of a partition's own balance, and its storage [W/K]."""
        sheet = self.net.partitions[index]
        capacity = sheet.area_m2 * sheet.capacity_j_per_m2k / self.step_s
        diag = capacity + sum(faces.to_air_w_per_k) + sum(faces.to_radiant_w_per_k)
        return np.asarray(diag), capacity


def hold_air(
    matrix: FloatArray, vector: FloatArray, where: BoolArray, column: int, temp: FloatArray
) -> None:
    """Put a temperature in place of the air's balance, in the zones and cases marked.

    Changes the zone equations of a step; the right-hand side of ``column`` takes the temperature,
    shape (n_zone, n_case), all others nothing.
    """
    for zone, picked in enumerate(where):
        matrix[zone][:, picked] = 0.0
        matrix[zone, zone, picked] = 1.0
        vector[zone][:, picked] = 0.0
        vector[zone, column, picked] = temp[zone, picked]
