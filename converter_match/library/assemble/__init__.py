"""From a checked file to a component: one module a kind, each with ``assemble(toml)``."""
