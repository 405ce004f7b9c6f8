"""One combination against the criteria of a study."""
