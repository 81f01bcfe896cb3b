"""Quantities: text with a unit to SI and back, values with their uncertainty budget."""
