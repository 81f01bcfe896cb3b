"""Records grown edit by edit, a few; `python -m tests.machine.run` grows more."""

from hypothesis import settings

from tests.machine.growing import GrowingRecord

TestGrowingRecord = GrowingRecord.TestCase
TestGrowingRecord.settings = settings(
    max_examples=10, stateful_step_count=8, deadline=None, derandomize=True
)
