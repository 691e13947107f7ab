"""Learns what an unknown gauge sends from examples of what came and what its display showed.

Entry points: `learner.learn`, `guide`. May import dialects; opens no port itself.
"""
