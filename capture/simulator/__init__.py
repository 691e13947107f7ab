"""A shop made of physics: wheel, machine spring, heat, and gauges that speak bytes.

Entry points: `shop.work`, `bore_session.play`, `golden.record`. May import ingest and what lies below it.
"""
