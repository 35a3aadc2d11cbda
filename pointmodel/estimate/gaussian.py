"""The linear model with Gaussian priors, the noise integrated out on a grid.

With design X, data r about the prior mean, prior sds S and noise variance v, everything follows
from the eigendecomposition S G S = V Λ Vᵀ of the scaled Gram matrix G = XᵀX: one decomposition
serves every v. (Standard ridge algebra; see e.g. Golub & Van Loan, Matrix Computations, on the
SVD.) Zero eigenvalues keep the prior, so a two-pair night does not look certain.

Priors that tie terms together come as a root R of their covariance R Rᵀ in place of S.

Shapes: p columns, b alternative priors, g noise variances.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pointmodel.base.arrays import FloatArray
from pointmodel.base.normal import LOG_TWO_PI, log_normal


@dataclass(frozen=True)
class Moments:
    """All the linear model needs of the data: XᵀX (p, p), Xᵀr (p,), rᵀr, and how many numbers.

    `log_jacobian` is −½ Σ ln ρ of rows that were divided by √ρ.
    """

    gram: FloatArray
    cross: FloatArray
    square: float
    numbers: int
    log_jacobian: float = 0.0


@dataclass(frozen=True)
class Spectrum:
    """The moments seen in the eigenvectors of the scaled Gram matrix.

    `eigenvalues` (b, p), `basis` (b, p, p) = S V, `score` (b, p) = (S V)ᵀ Xᵀr, `square` (b,) = rᵀr,
    each about its own prior mean.
    """

    eigenvalues: FloatArray
    basis: FloatArray
    score: FloatArray
    square: FloatArray
    moments: Moments


@dataclass(frozen=True)
class NoisePrior:
    """ln of the unknown part of the noise is normal; `floor` (arcmin²) is the known part.

    `carried` is mean, sd and share of a second normal: what other nights say of it. `careless` is
    mean and sd of the normal that holds where the mount was set up without care, if one does.
    """

    log_mean: float
    log_sd: float
    floor: float = 0.0
    carried: tuple[float, float, float] | None = None
    careless: tuple[float, float] | None = None

    def log_density(self, log_sigma: FloatArray) -> FloatArray:
        """Return ln of the prior density of ln sigma, shape as given."""
        usual = log_normal(log_sigma, self.log_mean, self.log_sd)
        if self.carried is None:
            return usual
        mean, sd, share = self.carried
        told = log_normal(log_sigma, mean, sd)
        return np.asarray(np.logaddexp(usual + np.log(1.0 - share), told + np.log(share)))


@dataclass(frozen=True)
class NoiseGrid:
    """Nodes of the noise: the unknown sigma (g,), the total variance (g,), ln weight with prior.

    `careless` is mean and sd of ln sigma on a mount set up without care, if that is asked.
    """

    sigma: FloatArray
    variance: FloatArray
    log_prior: FloatArray
    log_spacing: float = 0.0
    careless: tuple[float, float] | None = None

    def log_prior_with(self, careless: FloatArray | None) -> FloatArray:
        """Return ln weights (b, g) for shares (b,) of a mount set up without care, else (g,)."""
        if careless is None or self.careless is None:
            return self.log_prior
        log_careless = log_normal(np.log(self.sigma), *self.careless) + self.log_spacing
        share = careless[:, None]
        return np.asarray(
            np.logaddexp(self.log_prior + np.log1p(-share), log_careless + np.log(share))
        )


def spectrum(moments: Moments, spread: FloatArray, offset: FloatArray | None = None) -> Spectrum:
    """Return the spectra for b priors: sds (b, p), or roots R (b, p, p) of covariances R Rᵀ.

    `offset` (b, p) is how far each prior's mean lies from the one that the moments are about: with
    r − X o in place of r, Xᵀr loses G o and rᵀr becomes rᵀr − 2 oᵀXᵀr + oᵀG o.
    """
    if spread.ndim == 2:
        scaled = spread[:, :, None] * moments.gram * spread[:, None, :]
        eigenvalues, vectors = np.linalg.eigh(scaled)
        basis = spread[:, :, None] * vectors
    else:
        eigenvalues, vectors = np.linalg.eigh(np.swapaxes(spread, 1, 2) @ moments.gram @ spread)
        basis = spread @ vectors
    cross = np.broadcast_to(moments.cross, basis.shape[:2])
    square = np.full(basis.shape[0], moments.square)
    if offset is not None:
        pull = offset @ moments.gram
        square = square - 2.0 * offset @ moments.cross + (offset * pull).sum(axis=1)
        cross = cross - pull
    score = (cross[:, None, :] @ basis)[:, 0, :]
    return Spectrum(np.maximum(eigenvalues, 0.0), basis, score, square, moments)


def log_likelihood(spec: Spectrum, variance: FloatArray) -> FloatArray:
    """Return ln p(r | v) of shape (b, g), the terms integrated out.

    r ~ N(0, v I + X S² Xᵀ). With eigenvalues λ of S G S and scores a = (S V)ᵀXᵀr the determinant
    is v^(N−p) Π (λ + v), by Sylvester's identity, and the square (rᵀr − Σ a²/(λ + v)) / v, by
    Woodbury's (Golub & Van Loan, Matrix Computations, section 2.1.4).
    """
    inverse = 1.0 / (spec.eigenvalues[..., None] + variance)
    explained = ((spec.score**2)[:, None, :] @ inverse)[:, 0]
    determinant = -np.log(inverse * variance).sum(axis=1)
    moments = spec.moments
    # rounding may leave a perfect fit a hair below zero
    misfit = np.maximum(spec.square[:, None] - explained, 0.0) / variance
    log_p = -0.5 * (determinant + misfit) + moments.log_jacobian
    return np.asarray(log_p - 0.5 * moments.numbers * (LOG_TWO_PI + np.log(variance)))


def grid(prior: NoisePrior, sigma: FloatArray) -> NoiseGrid:
    """Return a grid of the noise with the prior density times the spacing in ln sigma."""
    log_sigma = np.log(sigma)
    log_prior = prior.log_density(log_sigma)
    spacing = np.log(log_sigma[1] - log_sigma[0]) if sigma.size > 1 else 0.0
    return NoiseGrid(
        sigma, sigma**2 + prior.floor, log_prior + spacing, float(spacing), prior.careless
    )


# from a fifth of an arcsecond (an observatory) to six degrees (nonsense), a quarter apart: no peak
# of ln σ is narrower before there are a hundred pairs, and then the grid is refined
COARSE_SIGMA_ARCMIN = np.exp(np.arange(np.log(0.003), np.log(400.0), 0.24))
DEPTH_NATS = 12.0  # what lies outside weighs e⁻¹², six in a million


def noise_grid(
    prior: NoisePrior, log_p: Callable[[FloatArray], FloatArray], nodes: int
) -> NoiseGrid:
    """Return a grid of `nodes` that covers where the noise can be, however sharply it is known.

    `log_p` maps variances (g,) to ln likelihoods (g,). From a coarse grid the range within 12 nats
    of the best is taken and refined until several nodes stand in it.
    """
    sigma = COARSE_SIGMA_ARCMIN
    for _ in range(6):
        nodes_now = grid(prior, sigma)
        log_posterior = log_p(nodes_now.variance) + nodes_now.log_prior
        inside = np.flatnonzero(log_posterior > log_posterior.max() - DEPTH_NATS)
        low, high = max(inside[0] - 1, 0), min(inside[-1] + 1, sigma.size - 1)
        settled = inside.size >= 9 and inside.size > sigma.size // 3
        if settled and sigma is not COARSE_SIGMA_ARCMIN:
            return nodes_now
        sigma = np.exp(np.linspace(np.log(sigma[low]), np.log(sigma[high]), nodes))
    return grid(prior, sigma)


def normalised(log_weights: FloatArray) -> tuple[FloatArray, float]:
    """Return weights that sum to one, and ln of what they summed to."""
    top = log_weights.max()
    weights = np.exp(log_weights - top)
    total = weights.sum()
    return weights / total, float(top + np.log(total))
