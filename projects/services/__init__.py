"""What can be done to a project itself: start it, set it up, let people in, keep its files."""
