"""Measurement: one kind of evidence each, to tension or share, with its budget."""
