"""The version of the program, told once."""

__version__ = "0.1.0"
