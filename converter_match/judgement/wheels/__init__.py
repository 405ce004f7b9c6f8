"""A match at the wheels: tractive effort, grades, acceleration."""
