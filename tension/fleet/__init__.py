"""Fleet: one line a lift from a tree of records, on all cores or on a cluster."""
