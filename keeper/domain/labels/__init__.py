"""Labels of tubs, egg boxes and places: printed, scanned, told apart by where they lead."""
