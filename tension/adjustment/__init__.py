"""Adjustment: influence of each nut, plan of turns, learning from as found and as left."""
