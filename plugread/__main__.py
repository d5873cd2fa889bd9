"""`python -m plugread` is the command line."""

import sys

from plugread.cli import main

if __name__ == "__main__":
    sys.exit(main())
