"""What a person says, read as commands: passes, rounds, readings typed, and what each sets in the session.

Entry point: `commands.parse_command`. May import what `capture.state` may.
"""
