"""What is known of decisions, read into plain values with a stated number of queries."""
