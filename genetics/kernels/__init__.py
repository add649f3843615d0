"""Inner loops over arrays, in the subset of Python that Numba compiles."""
