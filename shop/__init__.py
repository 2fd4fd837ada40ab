"""The shop as a place: people, devices, stations, places, species, cuts, settings and background jobs."""
