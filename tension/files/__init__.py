"""Files: disk in, disk out; every write is atomic."""
