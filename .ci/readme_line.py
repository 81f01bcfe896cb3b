"""Print one of the README's command lines, so that it is run as it is written."""

import re
import sys
from pathlib import Path

_, readme, name = sys.argv
found = re.search(
    rf"<!-- line: {re.escape(name)} -->\s*```[a-z]*\n(.+?)\n```",
    Path(readme).read_text(encoding="utf-8"),
    re.DOTALL,
)
if found is None:
    sys.exit(f"{readme} has no line marked {name!r}")
sys.stdout.write(found.group(1) + "\n")
