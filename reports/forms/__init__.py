"""Forms of the pages that look at the whole."""
