"""Physics: mechanics of taut ropes on plain floats and arrays, SI."""
