"""The one figure style and what every figure draws with."""
