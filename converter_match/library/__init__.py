"""Reading, checking and writing component files."""
