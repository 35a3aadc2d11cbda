"""What is wrong, how sure that is, and what to do first.

In: posterior, forecasts, what the sky says of the entries. Out: causes, best supported first, and
the one sentence at the head. Read first: `causes.py` (probabilities become verdicts), `evidence.py`
(the sentences), `lean.py` (the lean with its limits), `skyevidence.py` (what names, times and place
add), `summary.py`. Of alignments: `alignedlog.py` (what a controller shows), `alignmenttales.py`
(what may have happened), `alignmentfault.py` (what did).
"""
