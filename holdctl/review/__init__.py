"""Looking back at recorded holds: figures, a report for the terminal, pictures, and comparison. Reads the
record only.

`figures` (one hold), `report` (rich), `picture` (matplotlib), `compare` (the last n holds).
"""
