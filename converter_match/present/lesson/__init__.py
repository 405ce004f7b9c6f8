"""The lesson as a page and as a handout."""
