"""From rings to lines: frequency, level, decay, and which of them are hum."""
