"""Elements that every page is made of: boxes, tables, controls, empty figures, and their colours.

Entry points: `boxes.box`, `parts.listed`, `controls.saying`, `figure.figures`. May import text.
"""
