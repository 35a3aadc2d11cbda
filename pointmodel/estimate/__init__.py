"""The estimator: from pairs to a posterior over the pointing terms.

Read in this order: `observations` (pairs as arrays, linearised on the exact form), `gaussian` (the
linear model with the noise integrated out), `priors` (what is assumed), `evaluation` (one
hypothesis and what follows), `badpairs` (slips of the pen and wrong stars), `search` and `starts`
(which pairs and which further terms), `posterior` (the mixture that is reported), `identify` (what
the night cannot tell), `solve` (all of it in one call), `sparse` (which faults are there, for the
diagnosis).
"""
