"""The balance of a stall test."""
