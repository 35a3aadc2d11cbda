"""The input door: files, sheets and frames become checked text cells, and cells become numbers.

Read first: `table.py` (any source to one table of text), then `columns.py` (what each column may
hold). `nightlog.py` and `mountfile.py`, one level up, are what the rest of the program uses.
"""
