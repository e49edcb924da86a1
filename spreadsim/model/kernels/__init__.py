"""Compiled kernels, one file per process; they take arrays and know no file, unit or label."""
