"""Pages: fetch with right, form, one domain call, render."""
