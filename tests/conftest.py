"""What holds for every test: property tests draw the same cases on every machine."""

from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True, database=None)
settings.load_profile("house")
