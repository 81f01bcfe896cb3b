"""Exit codes, and the one place where errors become lines on stderr."""

from enum import IntEnum

from tension.assessment.outcome import Verdict


class ExitCode(IntEnum):
    """What a script can read from the exit status."""

    DONE = 0
    CRASH = 1
    WRONG_USAGE = 2
    UNUSABLE_INPUT = 3
    UNEQUAL = 10
    CANNOT_TELL = 11
    NO_FEASIBLE_PLAN = 12
    CHANGE_FOUND = 13
    CONTRADICTION = 14
    INTERRUPTED = 130


EXIT_OF_VERDICT = {
    Verdict.EQUAL: ExitCode.DONE,
    Verdict.UNEQUAL: ExitCode.UNEQUAL,
    Verdict.CANNOT_TELL: ExitCode.CANNOT_TELL,
    Verdict.NO_RESULT: ExitCode.UNUSABLE_INPUT,
}
