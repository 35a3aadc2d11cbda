"""`python -m pointmodel`: the command line."""

from pointmodel.cli import main

if __name__ == "__main__":
    main()
