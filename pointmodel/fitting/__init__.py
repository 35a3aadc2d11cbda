"""One fit as the user holds it: `fit(log)` gives a `Fit`, which answers all that is asked of it.

In: a log, a mount file, perhaps a profile. Out: a `Fit`; its text, page, document, frames, lmfit
result; saved and loaded. Read first: `fit.py`, `result.py`. It stands above the rooms that judge:
those take a log, a posterior, forecasts, never a `Fit`.
"""
