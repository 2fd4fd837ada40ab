"""How long things take, as ratios within one run: `python -m tests.bench`. Nothing here is collected by pytest."""
