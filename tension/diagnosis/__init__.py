"""Causes behind a pattern of deviations over positions, sides, directions and days."""
