"""Work that goes on while its page is left: imports, copies, comparisons.

Whoever has such work calls `jobs.begin`, and `jobs.look` for how far it is; wherever it is done it
is the same. Without a queue that is a thread of this process; with one (`KEPTLINES_QUEUE`, the
library `django-tasks` with its tables in PostgreSQL) a process of its own, `manage.py work`.

| file | |
|---|---|
| `kinds.py` | which kinds of work there are, and the function that does each |
| `jobs.py` | begin one, see how far it is, notice one whose process ended |
| `working.py` | do one: once, telling how far it is, ending in words |
| `telling.py` | where that is told, and whether anybody still works on it |
| `queue.py`, `tasks.py` | the queue, where there is one |

A job is a row (`Job`). Who works on one holds a lock of PostgreSQL on its number, on a connection
of its own, which the server lets go of when the process dies; no clock decides that. In SQLite one
process serves the book, and its memory tells.
"""
