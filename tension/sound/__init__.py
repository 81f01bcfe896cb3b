"""Sound: samples to plucks to partials to what was heard of one rope and of a set."""
