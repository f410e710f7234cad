"""After the water: logs read, the sea that they met, set-ups compared fairly, a craft's numbers fitted."""
