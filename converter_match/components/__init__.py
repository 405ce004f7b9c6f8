"""Components: what can be bought, or found on site; frozen, validated, SI."""
