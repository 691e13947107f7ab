"""Learns what an unknown gauge sends from examples of what came and what its display showed.

Entry points: `learner.learn` for examples, `guide.Guide` for a lesson step by step, `lesson.Conversation`
for one on a terminal, `example_files.teach_from` for files. May import dialects; opens no port itself.
"""
