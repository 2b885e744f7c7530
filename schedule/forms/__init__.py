"""What people enter about the sequence, read and refused with its place."""
