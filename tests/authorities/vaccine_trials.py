"""Thirteen trials of the BCG vaccine: cases and others among vaccinated and unvaccinated people.

Source: Colditz et al. 1994, J. Am. Med. Assoc. 271, 698, with the counts and the random-effects
figures as textbooks print them (log risk ratios; DerSimonian & Laird). Counts from memory; that
they are the right ones shows in Q.
"""

from __future__ import annotations

import numpy as np

# vaccinated: cases, others; unvaccinated: cases, others
COUNTS = np.array([
    (4, 119, 11, 128),
    (6, 300, 29, 274),
    (3, 228, 11, 209),
    (62, 13536, 248, 12619),
    (33, 5036, 47, 5761),
    (180, 1361, 372, 1079),
    (8, 2537, 10, 619),
    (505, 87886, 499, 87892),
    (29, 7470, 45, 7232),
    (17, 1699, 65, 1600),
    (186, 50448, 141, 27197),
    (5, 2493, 3, 2338),
    (27, 16886, 29, 17825),
])  # fmt: skip

MISFIT = 152.23  # Q
BETWEEN_VARIANCE = 0.309  # DerSimonian & Laird
POOLED = -0.714  # mean log risk ratio
BETWEEN_VARIANCE_LIMITS = (0.120, 1.115)  # 95 %, by the Q profile


def log_risk_ratios() -> tuple[np.ndarray, np.ndarray]:
    """Log risk ratios (13,) and their variances (13,)."""
    a, b, c, d = COUNTS.T
    ratio = np.log(a / (a + b)) - np.log(c / (c + d))
    return ratio, 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)
