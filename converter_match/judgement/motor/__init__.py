"""An electric motor in the engine's place: behind a converter, or coupled directly."""
