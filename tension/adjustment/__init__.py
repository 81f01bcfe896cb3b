"""Adjustment: influence of each nut, plan of turns, what the turns have shown."""
