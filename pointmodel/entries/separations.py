"""Which star was centred: the angle between two stars survives every rotation of the readouts.

An altitude index is no rotation and can spoil separations by a degree: one is allowed for. What is
left, collimation and the like, stays below a degree on usual mounts; another star is farther off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.angles import direction_vectors
from pointmodel.base.arrays import BoolArray, FloatArray

ARCMIN = np.pi / 10800.0
# Choices: collimation and the like spoil a separation by less than a degree; of two stars alone
# there is no third to say which is wrong, so more is asked.
SUSPECT_ABOVE_ARCMIN, PAIR_SUSPECT_ABOVE_ARCMIN = 60.0, 120.0
_INDICES_ARCMIN = np.arange(-180.0, 181.0, 6.0)  # altitude zeros tried: three degrees either way
_CAP_ARCMIN = 60.0  # a star that differs more may be another star and says no more of the zero
_INDEX_COST = 0.02  # a choice: of two zeros that fit alike the smaller one
_USUAL_TIMES = 4.0  # a choice: a suspect stands out from the others so many times
_MOST_COMPARED = 40  # stars; more make it no surer, and cost their square


@dataclass(frozen=True, eq=False)
class Centred:
    """What the separations say of n centred stars.

    `misfit_arcmin` (n,): by how much a star's separations from the others differ between readout
    and command, their lower median. `directions` (n, 3): where each truly was in the frame of the
    commands, by the rotation of those that agree; None where fewer than two agree or none is
    suspect.
    """

    misfit_arcmin: FloatArray
    suspect: BoolArray
    directions: FloatArray | None


def compare_separations(
    commanded: FloatArray, centred_az_deg: FloatArray, centred_alt_deg: FloatArray
) -> Centred:
    """Compare the separations of two or more stars; `commanded` (n, 3) are unit vectors."""
    wanted = _separations_arcmin(commanded, commanded)
    few = np.linspace(0, len(commanded) - 1, min(len(commanded), _MOST_COMPARED)).astype(int)
    corner = np.ix_(few, few)
    costs = []
    for index in _INDICES_ARCMIN:
        read = direction_vectors(centred_az_deg[few], centred_alt_deg[few] - index / 60.0)
        off = np.abs(_separations_arcmin(read, read) - wanted[corner])
        costs.append(np.minimum(off, _CAP_ARCMIN).sum() + _INDEX_COST * few.size * abs(index))
    index = float(_INDICES_ARCMIN[int(np.argmin(costs))])
    read = direction_vectors(centred_az_deg, centred_alt_deg - index / 60.0)
    off = np.abs(_separations_arcmin(read, read) - wanted)
    np.fill_diagonal(off, np.inf)
    misfit = np.sort(off, axis=1)[:, max(0, (len(off) - 2) // 2)]
    limit = SUSPECT_ABOVE_ARCMIN if len(off) > 2 else PAIR_SUSPECT_ABOVE_ARCMIN
    usual = float(np.sort(misfit)[(len(misfit) - 1) // 2])
    suspect = misfit > max(limit, _USUAL_TIMES * usual)
    if len(off) == 2:
        suspect = misfit > limit
    good = ~suspect
    directions = None
    if suspect.any() and good.sum() >= 2:
        directions = read @ _rotation(read[good], commanded[good])
    return Centred(misfit_arcmin=misfit, suspect=suspect, directions=directions)


def _separations_arcmin(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray(np.arccos(np.clip(one @ other.T, -1.0, 1.0)) / ARCMIN)


def _rotation(from_vectors: FloatArray, to_vectors: FloatArray) -> FloatArray:
    """The rotation that carries row vectors to others: Kabsch, Acta Cryst. A32 (1976) 922."""
    left, _, right = np.linalg.svd(from_vectors.T @ to_vectors)
    handed = np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right))])
    return np.asarray(left @ handed @ right)
