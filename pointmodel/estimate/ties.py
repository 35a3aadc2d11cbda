"""Terms that a user holds at a value, or ties to one another: what is then left to find.

Read `gaussian.py` first. The terms of a model follow from what was left free by t = c + J u; a
prior of the terms, looked at where they may be, is a prior of u. Held terms are rows of zeros in J.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import BoolArray, FloatArray

# times the usual widths: what a night says to a tenth of them moves by a ten-millionth
HARDLY_A_PRIOR = 1e3


@dataclass(frozen=True, eq=False)
class Ties:
    """A model's terms (p,) by what was left free (f,): `offset` (p,) + `slope` (p, f) @ u.

    `flat`: nothing but the pairs speaks of them.
    """

    offset: FloatArray
    slope: FloatArray
    flat: bool = False

    @property
    def held(self) -> BoolArray:
        """Which terms (p,) stand at a value, whatever the pairs say."""
        return np.asarray(~np.any(self.slope, axis=1))

    def restrict(self, mean: FloatArray, spread: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return means (b, p) and roots (b, p, f) of priors where the terms may be.

        Of b normals with means (b, p) and sds (b, p), or roots (b, p, p) of covariances, the part
        on t = c + J u: its information is Jᵀ P J and its pull Jᵀ P (m − c), with P = C⁻¹ (Bishop,
        Pattern Recognition and Machine Learning, section 2.3.1).
        """
        width = HARDLY_A_PRIOR * spread if self.flat else spread
        white, beside = self._whitened(mean - self.offset, width)
        turned = np.swapaxes(white, 1, 2)
        inverse = np.linalg.inv(np.linalg.cholesky(turned @ white))
        back = np.swapaxes(inverse, 1, 2)
        free = back @ inverse @ (turned @ beside[..., None])
        about: FloatArray = self.offset + (self.slope @ free)[..., 0]
        root: FloatArray = self.slope @ back
        return about, root

    def _whitened(self, off: FloatArray, width: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return slopes (b, p, f) and offsets (b, p) in standard deviations of each prior."""
        if width.ndim == 2:
            return self.slope / width[..., None], off / width
        slope = np.broadcast_to(self.slope, (len(width), *self.slope.shape))
        beside = np.linalg.solve(width, off[..., None])[..., 0]
        return np.asarray(np.linalg.solve(width, slope)), np.asarray(beside)
