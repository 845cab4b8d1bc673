"""``python -m ridelab`` is the same as ``ridelab``."""

from ridelab.cli import main

if __name__ == "__main__":
    main()
