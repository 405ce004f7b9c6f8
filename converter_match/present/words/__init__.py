"""Words of the console and of notes on figures."""
