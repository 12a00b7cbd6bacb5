"""The benchmark: controllers against each other and against the computed limit, scored on the true paste.

`python -m holdsim.bench` runs it; docs/benchmark.md states the distributions and the definitions. This package alone
of the simulator may import the controller that it measures.
"""
