"""``ridelab run`` and ``ridelab demo``: runs a pipeline and prints what it found."""
