"""How far go-tos will land from their targets, now and after each remedy.

In: the posterior of the terms and the open sky. Out: a `RemedyForecast` for each remedy. Read
first: `machine.py` (the fitted mount as a machine), `outlook.py` (the same with its uncertainty),
then `forecast.py` (each remedy); `alignment.py` aligns on two stars, `realignstars.py` names them,
`worth.py` says whether a remedy gains enough.
"""
