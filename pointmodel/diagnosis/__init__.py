"""What is wrong, and how sure that is.

In: posterior, forecasts, what the sky says of the entries. Out: causes, best supported first,
with their sizes. Read first: `causes.py` (probabilities become verdicts), `evidence.py`
(the sentences), `lean.py` (the lean with its limits), `skyevidence.py` (what names, times and place
add). Of alignments: `alignedlog.py` (what a controller shows), `alignmenttales.py`
(what may have happened), `alignmentfault.py` (what did).
"""
