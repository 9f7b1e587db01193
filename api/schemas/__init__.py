"""What requests and responses hold: names, units, ranges, meaning; no physics."""
