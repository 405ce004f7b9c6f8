"""A dealer's claims against our own figures."""
