"""English for people: messages of the arithmetic as sentences, lengths in the units of the job.

Entry points: `catalogue.sentence`, `lengths`, `command_replies.said`. Pure; may import metrology, the
sheet and events.
"""
