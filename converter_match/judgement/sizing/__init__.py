"""The size of converter, and the engine, that a wanted match asks for."""
