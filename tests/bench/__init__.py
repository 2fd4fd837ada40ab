"""How long things take, as ratios within one run: `python -m tests.bench`.

pytest collects no timing: only the check that the filled seasons are sound and that both sides give the same numbers.
"""
