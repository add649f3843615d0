"""When will a goal be reached?  Seasons of breeding towards it, by chance.

    solved = solve(population)
    forecast(solved, question).median        # the first season in which it is as likely as not

What the animals at hand carry is taken jointly from the posterior (`hand`), the keeper decides by
what can be known (`policy`), and what hatches follows the engine's own transmission (`genome`,
`genetics.kernels.forecast`).  Where nobody has anything to choose the chances are added up
(`closed`), else played out (`simulate`).
"""

from genetics.plans.forecast.answer import Forecast, Reached, forecast, forecast_query

__all__ = ["Forecast", "Reached", "forecast", "forecast_query"]
