"""The estimator: from pairs to a posterior over the pointing terms.

Read in this order: `observations` (pairs as arrays, linearised on the exact form), `gaussian` (the
linear model with the noise integrated out), `priors` (what is assumed), `badpairs` (slips of the
pen and wrong stars), `search` (which pairs and which further terms), `posterior` (the mixture that
is reported), `identify` (what the night cannot tell).
"""
