"""Figures: draw_*(result, axes) on the Axes given."""
