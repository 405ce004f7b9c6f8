"""The size of converter, and the engine, that a required match asks for."""
