"""Oil temperature."""
