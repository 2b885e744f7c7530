"""What can be done with reports: issue one, and give or take back a link."""
