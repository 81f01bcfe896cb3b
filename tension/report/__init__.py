"""Report: evidence to HTML and PDF."""
