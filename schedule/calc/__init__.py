"""The sequence in plain values: working calendars and the critical path."""
