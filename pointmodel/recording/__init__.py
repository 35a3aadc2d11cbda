"""Pairs entered at the telescope: each on the disk before the next is asked for, and judged.

In: what a person types, a program sends, or another program writes. Out: the log, safe, and one
line of answer a pair. Read first: `logfile.py` (what is safe, and why), then `session.py` (one
accepted entry from figures to answer), `remark.py` (what the answer says). `dialogue.py`, `pipe.py`
and `watch.py` are three doors to them. Of the dialogue, `conversation.py` asks, `askstar.py` and
`askplaces.py` are its questions, `obeyed.py` its words, `draft.py` the pair in hand.
"""
