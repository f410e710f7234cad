"""`python -m sweep` is `foilsweep`."""

from sweep.cli import command

command()
