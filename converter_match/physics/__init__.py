"""Pure functions of components: arrays in, arrays out; no files, no plots."""
