"""What the two figures of a line mean: hypotheses about a log, weighed before its fit is believed.

In: a `NightLog` and the estimator's evidence. Out: the log as its figures are to be read, and
`Readings`, which says what is known of the controller, what was found, and what must be asked.
Read `result.py` first.
"""
