"""The command line. Each group of commands has its module; heavy libraries are imported inside the commands."""

from pipeline.cli.app import main

__all__ = ["main"]
