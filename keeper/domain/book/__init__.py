"""How the book is written and read as a whole: entries, history, undo, previews."""
