"""From candidates to one string or the reason why there is none."""
