"""Advising: the one verdict on a night, made once and shown by every text, page and command.

In: forecasts, causes, what the figures mean, lean, what the sky says (`grounds.py`).
Out: one `Advice`: state, headline, steps with the miss after each (`result.py`).
Read `result.py`, then `ladder.py` for how steps are chosen and `advise.py` for what comes first.
"""
