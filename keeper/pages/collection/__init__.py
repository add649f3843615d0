"""The collection: filtered, sorted, exported."""
