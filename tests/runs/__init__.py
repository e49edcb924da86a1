"""Which replicates run, on how many threads, interrupted or not: the numbers stay the same bits."""
