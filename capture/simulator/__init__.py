"""A shop made of physics: wheel, machine spring, heat, and gauges that speak bytes."""
