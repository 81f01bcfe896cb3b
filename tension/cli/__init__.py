"""Command line: one file per command."""
