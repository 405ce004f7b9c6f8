"""An engine and a converter together."""
