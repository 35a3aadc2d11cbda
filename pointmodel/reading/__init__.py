"""The input door: files, sheets and frames become a `NightLog` and a `MountFile`, checked.

In: paths, bytes, frames, dicts. Out: `NightLog`, `MountFile`, or every problem at once. Read first:
`night.py` and `mountfile.py` (what comes out), `nightlog.py` (how), then `table.py` (any source to
rows of text) and `columns.py` (what each column may hold, with its other names). Names of a user's
own: `owncolumns.py`; values that are missing: `incomplete.py`. What stands in place of centred
figures: `nudges.py`, `images.py`; in place of commanded ones: `almanac.py`; of a date: `dates.py`.
Sheets: `sheets.py`, which leads to `xlsx.py`, `opendocument.py` and their limits.
`suspicions.py` and `sheettimes.py` ask where figures may not be what they seem. `newfiles.py`
writes the files that a night starts from.
"""
