"""The commands, a module each, imported when they are called.

In: the arguments of the command line. Out: text or one JSON document, files, exit codes. Read
first: `common.py`; `cli.py`, outside the rooms, is the door to them.
"""
