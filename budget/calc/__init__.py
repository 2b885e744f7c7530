"""The formulas of the budget over plain values: no database, no clock, no request."""
