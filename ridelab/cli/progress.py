"""How far a run is: a bar where a person watches, a line now and then where nobody does."""
