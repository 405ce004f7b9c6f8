"""The report of a study: pages, PDF, tables."""
