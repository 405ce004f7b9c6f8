"""What an engine gives at its flywheel."""
