"""Visits to one lift over time: lives of the ropes, trends, the next check."""
