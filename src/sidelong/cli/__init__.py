"""The command line: one module per command, and the door that the `sidelong` script opens."""

from sidelong.cli.application import main

__all__ = ["main"]
