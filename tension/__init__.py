"""Share of the load each rope of a traction lift carries.

The front door: one function per stage and the types that pass between them, loaded
when first used. Everything is SI.

Examples
--------
From numbers; docs/python.md goes on from here:

>>> import tension
>>> found = tension.assess_frequencies(
...     [9.98, 9.71, 10.02, 9.55],
...     free_lengths=5.0,
...     ropes=tension.AboutRopes(diameter="13 mm", construction="8x19 FC"),
... )
>>> found.verdict.value
'cannot-tell'
>>> [round(row["share"], 2) for row in found.to_rows()]
[1.03, 0.98, 1.04, 0.95]

From a record, with ``tension.assess_record("visit.toml")``: its ``assessment`` is such
a result, beside all that it rests on.
"""

import lazy_loader

__version__ = "0.1.0"

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
