"""Places as a tree: what each holds, who is where, moving."""
