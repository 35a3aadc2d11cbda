"""The commands, a module each, imported when they are called; `cli.py` is the door to them."""
