"""The sheet of a stall test, its readings and trends as figures."""
