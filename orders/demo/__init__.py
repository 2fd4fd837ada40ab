"""An invented shop in the middle of its season, built through the same actions that people use."""
