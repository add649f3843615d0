"""Questions about seasons to come: test matings, forecasts, routes to a goal, who with whom."""
