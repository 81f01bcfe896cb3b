"""How long a report takes once the assessment is done, and how large it is.

Run ``python -m tests.benchmarks.report_time`` for the Markdown table. Each time is that
of a new process, the import of the packages that make figures and pages included; what
the assessment loaded before does not count.
"""

import statistics
import subprocess
import sys
from pathlib import Path

DEMO = Path(__file__).resolve().parents[2] / "recordings_demo"
REPEATS = 5

CHILD = """
import sys, time
from pathlib import Path
from tension.workflow.evidence import gather_evidence
from tension.workflow.outputs import write_document
from tension.telling.page import Paper
evidence = gather_evidence(sys.argv[1])
start = time.perf_counter()
from tension.report.content import build_report
target = Path(sys.argv[2])
write_document(build_report(evidence), target, paper=Paper.A4, overwrite=True)
print(time.perf_counter() - start, target.stat().st_size)
"""


def measure(record: Path, target: Path) -> tuple[float, int]:
    """Median time of a report [s] and its size [byte]."""
    times, size = [], 0
    for _ in range(REPEATS):
        ran = subprocess.run(
            [sys.executable, "-c", CHILD, str(record), str(target)],
            capture_output=True,
            text=True,
            check=True,
        )
        seconds, n_bytes = ran.stdout.split()
        times.append(float(seconds))
        size = int(n_bytes)
    return statistics.median(times), size


def main() -> None:
    """Print the table."""
    import tempfile

    print("| record | form | after the assessment | size |")
    print("|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for record in sorted(path.parent for path in DEMO.glob("*/visit.toml")):
            for form in ("pdf", "html"):
                seconds, size = measure(record, Path(folder) / f"report.{form}")
                row = f"{seconds:.2f} s | {size / 1000:.0f} kB"
                print(f"| {record.name} | {form} | {row} |")


if __name__ == "__main__":
    main()
