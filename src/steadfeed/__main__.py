"""`python -m steadfeed` is the command line."""

from steadfeed.cli import main

main()
