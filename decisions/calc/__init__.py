"""The formulas of a decision over plain values: no database, no clock, no request."""
