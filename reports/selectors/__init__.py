"""What the reporting pages show, read into frozen values with a stated number of queries."""
