"""Solar gain through a window of one or several panes, by angle, from one pane's own data.

References
----------
.. [1] J. Duffie, W. Beckman, *Solar Engineering of Thermal Processes*, ch. 5: Fresnel reflection
   at both faces and Bouguer absorption in between (from memory; checked against the angular table
   of ASHRAE Handbook—Fundamentals (2021) ch. 18, Table 13, in ``tests/outside``).
.. [2] Panes in a row by the reflections between them: the algebra of ISO 15099 and EN 410 (from
   memory; checked against both standards' limits and an independent engine in ``tests``).
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike

REFRACTIVE_INDEX_GLASS: Final = 1.526
"""Soda-lime glass over the solar spectrum [-] [1]_."""


@dataclass(frozen=True)
class PaneOptics:
    """Solar optics of a single pane.

    Parameters
    ----------
    optical_depth
        Extinction coefficient times thickness [-].
    absorptance_scale
        Stated absorptance at normal incidence over that of the plain pane [-].
    """

    optical_depth: float
    absorptance_scale: float = 1.0

    def beam(self, cos_incidence: FloatLike) -> tuple[FloatArray, FloatArray]:
        """Transmittance and absorptance [-] for a beam at an angle.

        Parameters
        ----------
        cos_incidence
            Cosine of the angle between the beam and the outward normal [-]; not positive: no gain.
        """
        transmittance, absorptance = _fresnel_pane(cos_incidence, self.optical_depth)
        scaled = np.minimum(absorptance * self.absorptance_scale, 1.0 - transmittance)
        return transmittance, scaled


@dataclass(frozen=True)
class Glazing:
    """Solar optics of a window of like panes.

    Parameters
    ----------
    pane
        Each of them.
    count
        How many stand behind each other, at least 1.
    """

    pane: PaneOptics
    count: int = 1

    def beam(self, cos_incidence: FloatLike) -> tuple[FloatArray, FloatArray]:
        """Transmittance, and absorptance of each pane from outside to inside, for a beam.

        Parameters
        ----------
        cos_incidence
            Cosine of the angle between the beam and the outward normal [-], any shape.

        Returns
        -------
        tuple
            Transmittance [-] of that shape; absorptance [-] of shape (count, ...) [2]_.
        """
        passed, caught = self.pane.beam(cos_incidence)
        lit = np.asarray(cos_incidence, dtype=float) > 0.0
        reflected = np.where(lit, 1.0 - passed - caught, 0.0)
        through, back = passed, reflected
        from_front, from_back = [caught], [caught]
        for _ in range(self.count - 1):
            # One pane more behind those that are there; light runs to and fro in the new gap.
            to_and_fro = 1.0 / (1.0 - back * reflected)
            returned = through * reflected * to_and_fro
            from_front = [
                front + returned * behind
                for front, behind in zip(from_front, from_back, strict=True)
            ]
            from_front.append(through * caught * to_and_fro)
            from_back = [passed * to_and_fro * behind for behind in from_back]
            from_back.append(caught + passed * back * to_and_fro * caught)
            back = reflected + passed * passed * back * to_and_fro
            through = through * passed * to_and_fro
        return through, np.stack(from_front)

    def diffuse(self) -> tuple[float, FloatArray]:
        """Transmittance, and absorptance of each pane, for radiation from the whole half-space."""
        return _diffuse(self)


# The windows of a truck are of a glass or two, and so are those of a fleet.
@lru_cache(maxsize=16)
def _diffuse(glazing: Glazing) -> tuple[float, FloatArray]:
    mu, weights = _half_space()
    through, caught = glazing.beam(mu)
    caught_diffuse = np.sum(weights * caught, axis=-1)
    caught_diffuse.flags.writeable = False
    return float(np.sum(weights * through)), caught_diffuse


def _half_space() -> tuple[FloatArray, FloatArray]:
    """Cosines of incidence and their weights: isotropic radiance arrives with 2 µ dµ."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    mu = 0.5 * (nodes + 1.0)
    # Gauss weights on (0, 1) carry a half.
    return mu, weights * mu


@lru_cache(maxsize=16)
def pane_from_normal(
    transmittance_frac: float, absorptance_frac: float | None = None
) -> PaneOptics:
    """Find the pane whose solar transmittance at normal incidence is the stated one.

    Parameters
    ----------
    transmittance_frac
        Solar transmittance at normal incidence [-], above 0, at most 0.915 (loss-free glass).
    absorptance_frac
        Solar absorptance at normal incidence [-]; by default that of plain tinted glass.

    Raises
    ------
    ValueError
        If no such pane exists.
    """
    lossless, _ = _fresnel_pane(1.0, 0.0)
    if not 0.0 < transmittance_frac <= float(lossless):
        msg = f"solar transmittance {transmittance_frac} is outside 0 to {float(lossless):.3f}"
        raise ValueError(msg)
    reflect = ((REFRACTIVE_INDEX_GLASS - 1.0) / (REFRACTIVE_INDEX_GLASS + 1.0)) ** 2
    # T = a(1-r)²/(1-r²a²) is a quadratic in the single-pass factor a.
    b = (1.0 - reflect) ** 2
    qa, qc = transmittance_frac * reflect**2, -transmittance_frac
    single_pass = (-b + np.sqrt(b * b - 4.0 * qa * qc)) / (2.0 * qa)
    optical_depth = float(-np.log(min(single_pass, 1.0)))
    if absorptance_frac is None:
        return PaneOptics(optical_depth)
    _, plain = _fresnel_pane(1.0, optical_depth)
    scale = absorptance_frac / float(plain) if plain > 0.0 else 1.0
    return PaneOptics(optical_depth, scale)


def _fresnel_pane(cos_incidence: FloatLike, optical_depth: float) -> tuple[FloatArray, FloatArray]:
    """Transmittance and absorptance of a slab with both polarisations averaged."""
    mu = np.clip(np.asarray(cos_incidence, dtype=float), 1e-6, 1.0)
    n = REFRACTIVE_INDEX_GLASS
    mu_inside = np.sqrt(1.0 - (1.0 - mu * mu) / (n * n))
    single_pass = np.exp(-optical_depth / mu_inside)
    transmittance = np.zeros_like(mu)
    absorptance = np.zeros_like(mu)
    for amplitude in (
        (mu - n * mu_inside) / (mu + n * mu_inside),
        (mu_inside - n * mu) / (mu_inside + n * mu),
    ):
        reflect = amplitude * amplitude
        passed = single_pass * (1.0 - reflect) ** 2 / (1.0 - (reflect * single_pass) ** 2)
        reflected = reflect * (1.0 + single_pass * passed)
        transmittance += 0.5 * passed
        absorptance += 0.5 * (1.0 - passed - reflected)
    lit = np.asarray(cos_incidence, dtype=float) > 0.0
    return np.where(lit, transmittance, 0.0), np.where(lit, absorptance, 0.0)
