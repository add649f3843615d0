"""The way of a clutch, from the planned pairing to young that are ready to go.

| file | what it does |
|---|---|
| `steps` | the steps, what leads to what, and the species' figures for it |
| `days` | how long each took in this book, by species and by dam |
| `way` | one clutch or one female's season: what was, what is expected |
| `picture` | the same as a line, in the units of the drawing |
| `proposing` | candidate sires of a clutch, from introductions and locks |
| `due` | what is expected this week or overdue, over the whole book |
| `writes` | all that is written |
"""
