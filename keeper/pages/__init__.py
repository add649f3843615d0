"""Pages, a folder an area: forms, typed page data, views, routes."""
