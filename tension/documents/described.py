"""Every document of the program, by the commands that print it."""

from collections.abc import Iterator

from tension.documents.assessed import ASSESSMENT, DEVICES, PLUCK
from tension.documents.kept import ACCEPTANCE, CORRECTION, SEAL, TRIM, VERIFY
from tension.documents.planned import ADJUST, ANSWERS, COMPARE, SPRINGS
from tension.documents.remembered import CAUSES, FLEET, HISTORY, LIFT
from tension.documents.shape import ENVELOPE, Shape, shape

DOCUMENTS = {
    "Envelope, in every document": ENVELOPE,
    "assess, demo, listen": ASSESSMENT,
    "pluck": PLUCK,
    "devices": DEVICES,
    "adjust": Shape((*ADJUST, *(key for one in ANSWERS.values() for key in one))),
    "compare": COMPARE,
    "springs": SPRINGS,
    "causes": CAUSES,
    "history": HISTORY,
    "acceptance": ACCEPTANCE,
    "seal": SEAL,
    "seal --correct": CORRECTION,
    "verify": VERIFY,
    "trim": TRIM,
    "fleet": Shape((*FLEET, *shape("lifts[] | |", lifts=LIFT))),
}
"""Those of commands stand beside the keys of the envelope."""


def document_keys() -> Iterator[tuple[str, dict[str, str]]]:
    """Give every document with its keys by their path, each with its meaning."""
    for name, described in DOCUMENTS.items():
        yield name, dict(described.rows())
