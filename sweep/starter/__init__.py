"""A first craft and campaign: from ten measurements, or copied from the demos."""
