"""The one form of an answer: blocks of SI values with headings and notes."""
