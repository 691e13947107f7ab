"""Where scenes come from: a recording followed as it grows, played, or decided again."""
