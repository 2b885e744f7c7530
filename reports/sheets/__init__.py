"""Sheets as files: what comes in is read into plain cells and bounded before anything is unpacked; what goes out is harmless."""
