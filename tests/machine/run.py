"""Grow more records than the quick test: `python -m tests.machine.run --records 2000`.

The smallest record that breaks an invariant is printed; a seed grows the same again.
"""

from argparse import ArgumentParser
from time import monotonic

from hypothesis import seed, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.machine.growing import GrowingRecord


def main() -> None:
    """Grow records and say that nothing broke."""
    parser = ArgumentParser(description=__doc__)
    parser.add_argument("--records", type=int, default=200, help="how many")
    parser.add_argument("--edits", type=int, default=12, help="of each, at most")
    parser.add_argument("--seed", type=int, default=1, help="of the edits")
    given = parser.parse_args()
    began = monotonic()
    run_state_machine_as_test(
        seed(given.seed)(GrowingRecord),
        settings=settings(
            max_examples=given.records,
            stateful_step_count=given.edits,
            deadline=None,
            database=None,
            derandomize=False,
        ),
    )
    print(
        f"seed {given.seed}, {given.records} records of up to {given.edits} edits, "
        f"{monotonic() - began:.0f} s: nothing broke"
    )


if __name__ == "__main__":
    main()
