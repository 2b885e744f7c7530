"""The rules of the pages that report: what comes first, and what is odd about a line's quotes."""
