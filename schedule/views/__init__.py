"""Pages of the sequence: request, one call, response."""
