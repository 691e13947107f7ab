"""Commands that write or read papers: `report`, `export`, `picture` and `certificate`.

Entry points: `papers`, `picture`, `certificate`. May import all of `capture`.
"""
