"""Documents for machines: each a table that writes and explains it."""
