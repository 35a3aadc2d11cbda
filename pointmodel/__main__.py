"""`python -m pointmodel`: the command line."""

from pointmodel.cli import main

main()
