"""The steps beside the measuring: checks, trial assemblies, pictures, and the words that say them.

Entry points: `job_steps.step`, `step_words.WORDS`. May import what `capture.state` may.
"""
