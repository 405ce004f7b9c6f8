"""What clutches, dividers, hydraulics and the like make of a match."""
