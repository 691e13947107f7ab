"""The pages of the screen, each a pure function of a scene.

Entry points: `registry.PAGES`, `registry.draw`. May import text and sources; no input and no output.
"""
