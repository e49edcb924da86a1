"""From a few numbers to a whole experiment: a site invented of them, crews, and strategies that the crews may do."""
