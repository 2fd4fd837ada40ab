"""The designs, one module each: a frozen dataclass of plain values, and how it is drawn on a sheet."""
