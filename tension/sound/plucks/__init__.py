"""From recordings to the rings of each rope."""
