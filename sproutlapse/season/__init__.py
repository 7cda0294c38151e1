"""Several trays of one season for people: what to do over all of them, and how each stands."""
