"""After the water: logs are read, their sea is estimated, set-ups are compared fairly, a craft's numbers are fitted."""
