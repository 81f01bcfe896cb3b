"""From the chosen string to its fundamental and the uncertainty of it."""
