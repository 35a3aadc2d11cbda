"""What every room may lean on, and what knows nothing of telescopes: angles, moments, words, files.

In: numbers and texts. Out: the same, checked, wrapped, formatted; the one family of errors.
Read first: `errors.py` (what a user can get wrong), `angles.py`, `figures.py` (figures as a reader
sees them), `documents.py` (what all JSON documents share).
"""
