"""`python -m paneglow`: the command line where no script of that name is on the path."""

from paneglow.cli import main

if __name__ == "__main__":
    main()
