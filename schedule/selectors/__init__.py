"""What the sequence knows, read into frozen values with a stated number of queries."""
