"""The estimator: from pairs to a posterior over the pointing terms.

In: the pairs of a `NightLog`. Out: a `Solution`, and from it terms, noise and pairs set aside in
users' units (`results.py`, made by `reported.py`). Read in this order: `observations.py` (pairs as
arrays, linearised on the exact form), `gaussian.py` (the linear model with the noise integrated
out), `termsprior.py` (what is assumed), `evaluation.py` (one hypothesis and what follows),
`badpairs.py` and `penslips.py` (wrong stars and slips of the pen), `search.py` and `starts.py`
(which pairs and which further terms), `posterior.py` (the mixture that is reported), `identify.py`
(what the night cannot tell), `solve.py` (all of it in one call), `sparse.py` (which faults are
there, for the diagnosis). `rounding.py` says how finely figures were read off, `precise.py` looks
again at logs finer than portable mounts are. What happened during a log, written down or not:
`segments.py`, `moves.py`, `glance.py`, `inturn.py`; what is carried over: `carried.py`,
`nightprior.py`, `profile.py`.
"""
