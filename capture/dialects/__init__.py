"""What instruments say: pure readers of bytes that answer *reading* or *garbled* and never raise."""
