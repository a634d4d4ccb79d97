"""`python -m trimopt`."""

from trimopt.cli import main

if __name__ == "__main__":
    main()
