"""Catalogue: published data, each row with its source and standing."""
