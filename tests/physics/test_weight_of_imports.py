"""The path from a frequency to a tension loads nothing heavier than numpy."""

import subprocess
import sys


def test_reading_a_frequency_loads_no_scipy() -> None:
    code = (
        "import sys; import tension.physics.taut_rope, tension.physics.own_weight; "
        "import tension.physics.side_pull, tension.physics.partials; "
        "from tension.physics.taut_rope import *; "
        "tension_from_frequency(frequency=9.0, mode_number=2, "
        "free_length=3.0, flexural_rigidity=1.0, ends=EndCondition.CLAMPED_PINNED); "
        "print('scipy' in sys.modules, 'matplotlib' in sys.modules)"
    )
    finished = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert finished.stdout.split() == ["False", "False"]
