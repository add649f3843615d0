"""Figures of seasons and years, and whether what hatched is as was expected.

| file | holds |
|---|---|
| `chances` | tests and corrections: exact, chi-squared where it holds, for how many are shown |
| `rates` | clutch sizes, fertility and hatch rate by season, dam, sire, incubator |
| `looks` | looks and sexes that hatched, against what was said before |
| `record` | of all that the book said of looks before they hatched, how much came true |
"""
