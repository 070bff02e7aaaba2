"""The command line. Each verb imports what it needs when it runs, so that all start fast."""

from canvas.cli import answers, earth, find, ground, sites, storm
from canvas.cli.common import main

__all__ = ["answers", "earth", "find", "ground", "main", "sites", "storm"]
