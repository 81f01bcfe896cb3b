"""Grow more records than the quick test: `python -m tests.machine.run --records 2000`.

Every run grows other records; the smallest one that breaks an invariant is printed.
"""

from argparse import ArgumentParser

from hypothesis import settings
from hypothesis.stateful import run_state_machine_as_test

from tests.machine.growing import GrowingRecord


def main() -> None:
    """Grow records and say that nothing broke."""
    parser = ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=int, default=200, help="how many")
    parser.add_argument("--edits", type=int, default=12, help="of each, at most")
    given = parser.parse_args()
    run_state_machine_as_test(
        GrowingRecord,
        settings=settings(
            max_examples=given.records,
            stateful_step_count=given.edits,
            deadline=None,
            database=None,
            derandomize=False,
        ),
    )
    print(f"{given.records} records of up to {given.edits} edits: nothing broke")


if __name__ == "__main__":
    main()
