"""Where the vehicle was: speed and distance from positions, and whose clock was off."""
