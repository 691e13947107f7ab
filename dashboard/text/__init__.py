"""Every word that the screen shows or says, in English, by key.

Entry points: `screen.word`, `voice.spoken`. May import nothing of the dashboard.
"""
