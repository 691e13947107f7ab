"""Commands of a shop of many machines: `publish`, `archive`, `shop` and `ask`.

Entry points: `messaging`, `ask`; `publishing.PublishingBeside` publishes beside a capture. May import what
`capture.commands` may.
"""
